-- Required thickness: the largest of pressure, code minimum (a neck: UG-45), structural minimum, external pressure.
-- grain: asset, component, zone, region, radius_basis
-- reads: step.pressure_thickness, step.shape, step.component, step.external_pressure, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column zone: general, or crown for the centre of a formed head
-- column region: weld or away
-- column radius_basis: retirement, allowance or nominal
-- column pressure_thickness_mm: thickness required for pressure
-- column code_minimum_mm: code minimum for the service
-- column parent_thickness_mm: thickness required of the wall a neck stands in, at E = 1
-- column parent_component: component whose wall that is
-- column standard_wall_mm: standard pipe wall of the neck's size
-- column pipe_undertolerance: undertolerance of standard pipe
-- column neck_formula: clause used for the least thickness of a neck
-- column neck_minimum_mm: least thickness of a neck
-- column structural_minimum_mm: structural minimum, zero where the register gives none
-- column external_thickness_mm: thickness for external pressure: the register's, else computed; zero where none is named
-- column external_from: register or computed, null where no external pressure is named
-- column required_formula: clause that gives the required thickness
-- column t_req_mm: required thickness
-- column governing_case: what sets it
-- column not_required_because: why there is none, null if there is one
WITH parent_wall AS (
    SELECT asset, component, radius_basis, pressure_thickness_mm
    FROM step.pressure_thickness
    WHERE kind <> 'nozzle' AND kind <> 'flat head' AND region = 'away' AND zone = 'general'
),

-- Without a named parent the thickest need among the vessel's walls is the safe one; it is unknown if any of them is.
thickest_wall AS (
    SELECT
        asset, radius_basis,
        CASE WHEN count(*) = count(pressure_thickness_mm) THEN max(pressure_thickness_mm) END AS thickness_mm,
        CASE WHEN count(*) = count(pressure_thickness_mm) THEN arg_max(component, pressure_thickness_mm) END
            AS component
    FROM parent_wall
    GROUP BY asset, radius_basis
),

gathered AS (
    SELECT
        pressure.asset, pressure.component, pressure.kind, pressure.zone, pressure.region, pressure.radius_basis,
        pressure.pressure_thickness_mm,
        shape.code_minimum_mm,
        shape.missing,
        CASE
            WHEN pressure.kind <> 'nozzle' THEN NULL
            WHEN component.attached_to IS NOT NULL THEN named.pressure_thickness_mm
            ELSE thickest_wall.thickness_mm
        END AS parent_thickness_mm,
        CASE
            WHEN pressure.kind <> 'nozzle' THEN NULL
            WHEN component.attached_to IS NOT NULL THEN component.attached_to
            ELSE thickest_wall.component
        END AS parent_component,
        CASE WHEN pressure.kind = 'nozzle' THEN component.standard_wall_mm END AS standard_wall_mm,
        in_force.pipe_undertolerance,
        CASE WHEN NOT list_contains(component.unsettled, 'structural_minimum')
            THEN coalesce(component.structural_minimum_mm, 0) END AS structural_minimum_mm,
        CASE
            WHEN list_has_any(component.unsettled, ['external_pressure', 'required_thickness_external']) THEN NULL
            WHEN component.external_thickness_mm IS NOT NULL THEN component.external_thickness_mm
            WHEN component.external_pressure_mpa > 0 THEN external.external_thickness_mm
            ELSE 0
        END AS external_thickness_mm,
        CASE
            WHEN list_has_any(component.unsettled, ['external_pressure', 'required_thickness_external']) THEN NULL
            WHEN component.external_thickness_mm IS NOT NULL THEN 'register'
            WHEN component.external_pressure_mpa > 0 THEN 'computed'
        END AS external_from,
        pressure.pressure_missing, pressure.pressure_unmet
    FROM step.pressure_thickness AS pressure
    JOIN step.shape AS shape USING (asset, component)
    JOIN step.component AS component USING (asset, component)
    LEFT JOIN parent_wall AS named
        ON named.asset = pressure.asset
        AND named.component = component.attached_to
        AND named.radius_basis = pressure.radius_basis
    LEFT JOIN thickest_wall
        ON thickest_wall.asset = pressure.asset
        AND thickest_wall.radius_basis = pressure.radius_basis
    LEFT JOIN step.external_pressure AS external
        ON external.asset = pressure.asset
        AND external.component = pressure.component
    CROSS JOIN basis.in_force AS in_force
),

necks AS (
    SELECT
        *,
        CASE
            WHEN kind <> 'nozzle' THEN NULL
            WHEN parent_thickness_mm IS NOT NULL AND standard_wall_mm IS NOT NULL THEN 'neck_minimum'
            WHEN parent_thickness_mm IS NOT NULL THEN 'neck_minimum_without_size'
            WHEN standard_wall_mm IS NOT NULL THEN 'neck_minimum_without_parent'
        END AS neck_formula
    FROM gathered
),

least AS (
    SELECT
        *,
        CASE neck_formula
            WHEN 'neck_minimum' THEN formula.neck_minimum(
                parent_thickness_mm, code_minimum_mm, standard_wall_mm, pipe_undertolerance)
            WHEN 'neck_minimum_without_size' THEN formula.neck_minimum_without_size(
                parent_thickness_mm, code_minimum_mm)
            WHEN 'neck_minimum_without_parent' THEN formula.neck_minimum_without_parent(
                standard_wall_mm, pipe_undertolerance)
        END AS neck_minimum_mm
    FROM necks
),

required AS (
    SELECT
        *,
        CASE WHEN kind = 'nozzle' THEN 'required_thickness_neck' ELSE 'required_thickness' END AS required_formula,
        CASE
            WHEN kind = 'nozzle' THEN formula.required_thickness_neck(
                pressure_thickness_mm, neck_minimum_mm, structural_minimum_mm, external_thickness_mm)
            ELSE formula.required_thickness(
                pressure_thickness_mm, code_minimum_mm, structural_minimum_mm, external_thickness_mm)
        END AS t_req_mm
    FROM least
)

SELECT
    asset, component, zone, region, radius_basis, pressure_thickness_mm, code_minimum_mm, parent_thickness_mm,
    parent_component, standard_wall_mm, pipe_undertolerance, neck_formula, neck_minimum_mm, structural_minimum_mm,
    external_thickness_mm, external_from, required_formula, t_req_mm,
    CASE
        WHEN t_req_mm IS NULL THEN NULL
        WHEN t_req_mm = pressure_thickness_mm THEN 'internal pressure'
        WHEN t_req_mm = external_thickness_mm THEN 'external pressure'
        WHEN t_req_mm = structural_minimum_mm THEN 'structural minimum'
        WHEN kind = 'nozzle' THEN 'least neck thickness'
        ELSE 'code minimum'
    END AS governing_case,
    CASE
        WHEN t_req_mm IS NOT NULL THEN NULL
        WHEN len(missing) > 0 THEN array_to_string(missing, ', ')
        WHEN pressure_thickness_mm IS NULL AND pressure_missing IS NOT NULL
            THEN pressure_missing || coalesce(' (' || pressure_unmet || ')', '')
        WHEN pressure_thickness_mm IS NULL
            THEN 'a rule for these dimensions: '
                || coalesce(pressure_unmet, 'they lie outside the limits of the clause for this ' || kind)
        WHEN kind = 'nozzle' AND neck_minimum_mm IS NULL
            THEN 'nominal pipe size of the neck, or the data of the wall it stands in'
        WHEN external_from = 'computed' THEN 'a rule for this external pressure: no thickness of this wall is enough'
        ELSE 'required thickness for external pressure'
    END AS not_required_because
FROM required
