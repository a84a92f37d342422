-- Thickness required for internal pressure: each component, head zone, weld region and radius basis, with its inputs.
-- grain: asset, component, zone, region, radius_basis
-- reads: step.shape, step.component, step.thin_head, basis.in_force, reference.radius_basis
-- column asset: asset tag
-- column component: component tag
-- column kind: component kind
-- column zone: general, or crown for the centre of a formed head
-- column region: weld or away
-- column radius_basis: retirement, allowance or nominal
-- column dimension_form: inside or outside
-- column pressure_mpa: P
-- column allowable_stress_mpa: S
-- column efficiency_longitudinal: E of the longitudinal joint
-- column efficiency_circumferential: E of the circumferential joint
-- column inside_radius_mm: R on this basis
-- column outside_radius_mm: Ro
-- column inside_diameter_mm: D on this basis
-- column outside_diameter_mm: Do
-- column crown_radius_mm: L on this basis
-- column outside_crown_radius_mm: Lo
-- column flat_head_diameter_mm: d on this basis
-- column ellipsoidal_factor: K
-- column spherical_factor: K1
-- column torispherical_factor: M
-- column half_apex_angle_deg: alpha
-- column flat_head_factor: C
-- column longitudinal_formula: clause used for the longitudinal joint of a cylinder
-- column longitudinal_thickness_mm: its result
-- column circumferential_formula: clause used for the circumferential joint of a cylinder
-- column circumferential_thickness_mm: its result
-- column plain_formula: plain formula of a head thinner than 0.002 of its crown radius, null where it is not
-- column plain_thickness_mm: its result
-- column equivalent_outside_crown_radius_mm: outside crown radius of a formed head or its equivalent
-- column knuckle_thickness_mm: thickness at which the knuckle of a thin head is allowed the pressure
-- column pressure_formula: clause that gives the thickness required for pressure
-- column pressure_thickness_mm: thickness required for pressure
-- column pressure_missing: what the knuckle of a thin head lacks, null if nothing
-- column pressure_unmet: the limit of the clause that these dimensions do not meet, null if all are met
WITH basis_row AS (
    SELECT
        shape.asset, shape.component, shape.kind,
        zone.zone,
        region.region,
        radius.radius_basis,
        -- Loss on the inside leaves the outside radius alone, loss on the outside the inside radius. Both: the outside
        -- form, whose radius no loss can exceed. A flat head has the inside form only.
        CASE
            WHEN radius.radius_basis = 'retirement' AND loss_side <> 'outside' AND shape.kind <> 'flat head'
                THEN 'outside'
            ELSE 'inside'
        END AS dimension_form,
        shape.pressure_mpa, allowable_stress_mpa,
        CASE region.region WHEN 'away' THEN efficiency_away ELSE efficiency_longitudinal END
            AS efficiency_longitudinal,
        CASE region.region WHEN 'away' THEN efficiency_away ELSE efficiency_circumferential END
            AS efficiency_circumferential,
        shape.inside_diameter_as_built_mm,
        shape.inside_radius_as_built_mm,
        shape.crown_radius_as_built_mm,
        shape.outside_radius_mm, shape.outside_diameter_mm, shape.outside_crown_radius_mm,
        corrosion_allowance_mm, nominal_thickness_mm, ellipsoidal_factor, spherical_factor, torispherical_factor,
        half_apex_angle_deg, flat_head_factor, thick_wall, knuckle_radius_mm,
        thin_head.equivalent_outside_crown_radius_mm, thin_head.knuckle_thickness_mm, thin_head.knuckle_missing
    FROM step.shape AS shape
    JOIN step.component AS component USING (asset, component)
    LEFT JOIN step.thin_head AS thin_head USING (asset, component)
    CROSS JOIN reference.radius_basis AS radius
    CROSS JOIN (VALUES ('weld'), ('away')) AS region(region)
    JOIN (VALUES ('general'), ('crown')) AS zone(zone)
        ON zone.zone = 'general' OR shape.kind IN ('ellipsoidal head', 'torispherical head')
    CROSS JOIN basis.in_force
    WHERE shape.kind IS NOT NULL
),

dimensioned AS (
    SELECT
        * EXCLUDE (outside_radius_mm),
        CASE radius_basis
            WHEN 'allowance'
                THEN formula.inside_diameter_allowance(inside_diameter_as_built_mm, corrosion_allowance_mm)
            ELSE inside_diameter_as_built_mm
        END AS inside_diameter_mm,
        CASE radius_basis
            WHEN 'allowance' THEN formula.crown_radius_allowance(crown_radius_as_built_mm, corrosion_allowance_mm)
            ELSE crown_radius_as_built_mm
        END AS crown_radius_mm,
        CASE radius_basis
            WHEN 'allowance'
                THEN formula.flat_head_diameter_allowance(inside_diameter_as_built_mm, corrosion_allowance_mm)
            ELSE inside_diameter_as_built_mm
        END AS flat_head_diameter_mm,
        outside_radius_mm AS shell_outside_radius_mm
    FROM basis_row
),

radius_chosen AS (
    SELECT
        *,
        CASE
            WHEN zone = 'crown' AND kind = 'ellipsoidal head'
                THEN formula.crown_sphere_radius(spherical_factor, inside_diameter_mm)
            -- Outside the limits of UG-32 a dished head has no crown either: the factor of its shape is null.
            WHEN zone = 'crown' THEN CASE WHEN torispherical_factor IS NOT NULL THEN crown_radius_mm END
            WHEN radius_basis = 'allowance'
                THEN formula.inside_radius_allowance(inside_radius_as_built_mm, corrosion_allowance_mm)
            ELSE inside_radius_as_built_mm
        END AS inside_radius_mm,
        CASE
            WHEN zone = 'crown' AND kind = 'ellipsoidal head'
                THEN formula.crown_sphere_outside_radius(
                    spherical_factor, inside_diameter_as_built_mm, nominal_thickness_mm
                )
            WHEN zone = 'crown' THEN CASE WHEN torispherical_factor IS NOT NULL THEN outside_crown_radius_mm END
            ELSE shell_outside_radius_mm
        END AS outside_radius_mm
    FROM dimensioned
),

-- A formed head below 0.002 of its crown radius: its plain formula is not enough, its knuckle counts too.
headed AS (
    SELECT
        *,
        CASE
            WHEN zone <> 'general' OR equivalent_outside_crown_radius_mm IS NULL THEN NULL
            WHEN kind = 'ellipsoidal head' AND dimension_form = 'inside'
                AND formula.ellipsoidal_inside(
                    pressure_mpa, inside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa,
                    efficiency_longitudinal, spherical_factor) IS NULL
                THEN 'ellipsoidal_inside_thin'
            WHEN kind = 'ellipsoidal head' AND dimension_form = 'outside'
                AND formula.ellipsoidal_outside(
                    pressure_mpa, outside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa,
                    efficiency_longitudinal, spherical_factor) IS NULL
                THEN 'ellipsoidal_outside_thin'
            WHEN kind = 'torispherical head' AND dimension_form = 'inside'
                AND formula.torispherical_inside(
                    pressure_mpa, crown_radius_mm, torispherical_factor, allowable_stress_mpa,
                    efficiency_longitudinal) IS NULL
                THEN 'torispherical_inside_thin'
            WHEN kind = 'torispherical head' AND dimension_form = 'outside'
                AND formula.torispherical_outside(
                    pressure_mpa, outside_crown_radius_mm, torispherical_factor, allowable_stress_mpa,
                    efficiency_longitudinal) IS NULL
                THEN 'torispherical_outside_thin'
        END AS asked_plain_formula
    FROM radius_chosen
),

plainly AS (
    SELECT
        *,
        CASE asked_plain_formula
            WHEN 'ellipsoidal_inside_thin' THEN formula.ellipsoidal_inside_thin(
                pressure_mpa, inside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
                spherical_factor)
            WHEN 'ellipsoidal_outside_thin' THEN formula.ellipsoidal_outside_thin(
                pressure_mpa, outside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
                spherical_factor)
            WHEN 'torispherical_inside_thin' THEN formula.torispherical_inside_thin(
                pressure_mpa, crown_radius_mm, torispherical_factor, allowable_stress_mpa, efficiency_longitudinal)
            WHEN 'torispherical_outside_thin' THEN formula.torispherical_outside_thin(
                pressure_mpa, outside_crown_radius_mm, torispherical_factor, allowable_stress_mpa,
                efficiency_longitudinal)
        END AS plain_thickness_mm
    FROM headed
),

dimension AS (
    SELECT
        * EXCLUDE (asked_plain_formula),
        CASE WHEN plain_thickness_mm IS NOT NULL THEN asked_plain_formula END AS plain_formula
    FROM plainly
),

-- The clause that holds: thin where its limits are met, thick where they are not. NULL never falls through to a
-- friendlier clause, since every clause is NULL when an input is.
joint_clause AS (
    SELECT
        *,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside'
                THEN CASE
                    WHEN formula.cylinder_longitudinal_inside(
                        pressure_mpa, inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal
                    ) IS NOT NULL THEN 'cylinder_longitudinal_inside'
                    WHEN thick_wall = 'exponential' THEN 'cylinder_longitudinal_exponential_inside'
                    ELSE 'cylinder_longitudinal_thick_inside'
                END
            WHEN formula.cylinder_longitudinal_outside(
                pressure_mpa, outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal
            ) IS NOT NULL THEN 'cylinder_longitudinal_outside'
            WHEN thick_wall = 'exponential' THEN 'cylinder_longitudinal_exponential_outside'
            ELSE 'cylinder_longitudinal_thick_outside'
        END AS longitudinal_formula,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside'
                THEN CASE
                    WHEN formula.cylinder_circumferential_inside(
                        pressure_mpa, inside_radius_mm, allowable_stress_mpa, efficiency_circumferential
                    ) IS NOT NULL THEN 'cylinder_circumferential_inside'
                    ELSE 'cylinder_circumferential_thick_inside'
                END
            WHEN formula.cylinder_circumferential_outside(
                pressure_mpa, outside_radius_mm, allowable_stress_mpa, efficiency_circumferential
            ) IS NOT NULL THEN 'cylinder_circumferential_outside'
            ELSE 'cylinder_circumferential_thick_outside'
        END AS circumferential_formula,
        CASE
            WHEN kind IN ('cylinder', 'nozzle') THEN 'cylinder_pressure_thickness'
            WHEN kind IN ('sphere', 'hemispherical head') OR zone = 'crown'
                THEN CASE
                    WHEN dimension_form = 'inside' AND formula.sphere_inside(
                        pressure_mpa, inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal
                    ) IS NOT NULL THEN 'sphere_inside'
                    WHEN dimension_form = 'inside' THEN 'sphere_thick_inside'
                    WHEN formula.sphere_outside(
                        pressure_mpa, outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal
                    ) IS NOT NULL THEN 'sphere_outside'
                    ELSE 'sphere_thick_outside'
                END
            WHEN plain_formula IS NOT NULL THEN 'thin_head_thickness'
            WHEN kind = 'ellipsoidal head' THEN 'ellipsoidal_' || dimension_form
            WHEN kind = 'torispherical head' THEN 'torispherical_' || dimension_form
            WHEN kind = 'cone' THEN 'cone_' || dimension_form
            WHEN kind = 'flat head' THEN 'flat_head'
        END AS pressure_formula
    FROM dimension
),

joint AS (
    SELECT
        *,
        CASE longitudinal_formula
            WHEN 'cylinder_longitudinal_inside' THEN formula.cylinder_longitudinal_inside(
                pressure_mpa, inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal)
            WHEN 'cylinder_longitudinal_thick_inside' THEN formula.cylinder_longitudinal_thick_inside(
                inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
            WHEN 'cylinder_longitudinal_exponential_inside' THEN formula.cylinder_longitudinal_exponential_inside(
                inside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_longitudinal)
            WHEN 'cylinder_longitudinal_outside' THEN formula.cylinder_longitudinal_outside(
                pressure_mpa, outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal)
            WHEN 'cylinder_longitudinal_thick_outside' THEN formula.cylinder_longitudinal_thick_outside(
                outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
            WHEN 'cylinder_longitudinal_exponential_outside' THEN formula.cylinder_longitudinal_exponential_outside(
                outside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_longitudinal)
        END AS longitudinal_thickness_mm,
        CASE circumferential_formula
            WHEN 'cylinder_circumferential_inside' THEN formula.cylinder_circumferential_inside(
                pressure_mpa, inside_radius_mm, allowable_stress_mpa, efficiency_circumferential)
            WHEN 'cylinder_circumferential_thick_inside' THEN formula.cylinder_circumferential_thick_inside(
                inside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_circumferential)
            WHEN 'cylinder_circumferential_outside' THEN formula.cylinder_circumferential_outside(
                pressure_mpa, outside_radius_mm, allowable_stress_mpa, efficiency_circumferential)
            WHEN 'cylinder_circumferential_thick_outside' THEN formula.cylinder_circumferential_thick_outside(
                outside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_circumferential)
        END AS circumferential_thickness_mm
    FROM joint_clause
)

SELECT
    asset, component, kind, zone, region, radius_basis, dimension_form, pressure_mpa, allowable_stress_mpa,
    efficiency_longitudinal, efficiency_circumferential, inside_radius_mm, outside_radius_mm, inside_diameter_mm,
    outside_diameter_mm, crown_radius_mm, outside_crown_radius_mm, flat_head_diameter_mm, ellipsoidal_factor,
    spherical_factor, torispherical_factor, half_apex_angle_deg, flat_head_factor,
    longitudinal_formula, longitudinal_thickness_mm, circumferential_formula, circumferential_thickness_mm,
    plain_formula, plain_thickness_mm, equivalent_outside_crown_radius_mm, knuckle_thickness_mm, pressure_formula,
    CASE pressure_formula
        WHEN 'thin_head_thickness' THEN formula.thin_head_thickness(
            plain_thickness_mm, knuckle_thickness_mm, equivalent_outside_crown_radius_mm)
        WHEN 'cylinder_pressure_thickness' THEN formula.cylinder_pressure_thickness(
            longitudinal_thickness_mm, circumferential_thickness_mm)
        WHEN 'sphere_inside' THEN formula.sphere_inside(
            pressure_mpa, inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal)
        WHEN 'sphere_thick_inside' THEN formula.sphere_thick_inside(
            inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
        WHEN 'sphere_outside' THEN formula.sphere_outside(
            pressure_mpa, outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal)
        WHEN 'sphere_thick_outside' THEN formula.sphere_thick_outside(
            outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
        WHEN 'ellipsoidal_inside' THEN formula.ellipsoidal_inside(
            pressure_mpa, inside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
            spherical_factor)
        WHEN 'ellipsoidal_outside' THEN formula.ellipsoidal_outside(
            pressure_mpa, outside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
            spherical_factor)
        WHEN 'torispherical_inside' THEN formula.torispherical_inside(
            pressure_mpa, crown_radius_mm, torispherical_factor, allowable_stress_mpa, efficiency_longitudinal)
        WHEN 'torispherical_outside' THEN formula.torispherical_outside(
            pressure_mpa, outside_crown_radius_mm, torispherical_factor, allowable_stress_mpa,
            efficiency_longitudinal)
        WHEN 'cone_inside' THEN formula.cone_inside(
            pressure_mpa, inside_diameter_mm, half_apex_angle_deg, allowable_stress_mpa, efficiency_longitudinal)
        WHEN 'cone_outside' THEN formula.cone_outside(
            pressure_mpa, outside_diameter_mm, half_apex_angle_deg, allowable_stress_mpa, efficiency_longitudinal)
        WHEN 'flat_head' THEN formula.flat_head(
            flat_head_diameter_mm, flat_head_factor, pressure_mpa, allowable_stress_mpa, efficiency_longitudinal)
    END AS pressure_thickness_mm,
    CASE WHEN pressure_formula = 'thin_head_thickness' THEN knuckle_missing END AS pressure_missing,
    CASE pressure_formula
        WHEN 'cylinder_pressure_thickness' THEN coalesce(
            CASE longitudinal_formula
                WHEN 'cylinder_longitudinal_thick_inside' THEN formula.cylinder_longitudinal_thick_inside_unmet(
                    inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
                WHEN 'cylinder_longitudinal_thick_outside' THEN formula.cylinder_longitudinal_thick_outside_unmet(
                    outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
                WHEN 'cylinder_longitudinal_exponential_inside'
                    THEN formula.cylinder_longitudinal_exponential_inside_unmet(
                        inside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_longitudinal)
                WHEN 'cylinder_longitudinal_exponential_outside'
                    THEN formula.cylinder_longitudinal_exponential_outside_unmet(
                        outside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_longitudinal)
            END,
            CASE circumferential_formula
                WHEN 'cylinder_circumferential_thick_inside' THEN formula.cylinder_circumferential_thick_inside_unmet(
                    inside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_circumferential)
                WHEN 'cylinder_circumferential_thick_outside'
                    THEN formula.cylinder_circumferential_thick_outside_unmet(
                        outside_radius_mm, pressure_mpa, allowable_stress_mpa, efficiency_circumferential)
            END
        )
        WHEN 'sphere_thick_inside' THEN formula.sphere_thick_inside_unmet(
            inside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
        WHEN 'sphere_thick_outside' THEN formula.sphere_thick_outside_unmet(
            outside_radius_mm, allowable_stress_mpa, efficiency_longitudinal, pressure_mpa)
        WHEN 'thin_head_thickness' THEN CASE plain_formula
            WHEN 'ellipsoidal_inside_thin' THEN formula.ellipsoidal_inside_unmet(
                pressure_mpa, inside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
                spherical_factor)
            WHEN 'ellipsoidal_outside_thin' THEN formula.ellipsoidal_outside_unmet(
                pressure_mpa, outside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
                spherical_factor)
            WHEN 'torispherical_inside_thin' THEN formula.torispherical_inside_unmet(
                pressure_mpa, crown_radius_mm, torispherical_factor, allowable_stress_mpa, efficiency_longitudinal)
            WHEN 'torispherical_outside_thin' THEN formula.torispherical_outside_unmet(
                pressure_mpa, outside_crown_radius_mm, torispherical_factor, allowable_stress_mpa,
                efficiency_longitudinal)
        END
        WHEN 'ellipsoidal_inside' THEN formula.ellipsoidal_inside_unmet(
            pressure_mpa, inside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
            spherical_factor)
        WHEN 'ellipsoidal_outside' THEN formula.ellipsoidal_outside_unmet(
            pressure_mpa, outside_diameter_mm, ellipsoidal_factor, allowable_stress_mpa, efficiency_longitudinal,
            spherical_factor)
        WHEN 'torispherical_inside' THEN coalesce(
            formula.torispherical_factor_unmet(crown_radius_as_built_mm, knuckle_radius_mm, outside_diameter_mm),
            formula.torispherical_inside_unmet(
                pressure_mpa, crown_radius_mm, torispherical_factor, allowable_stress_mpa, efficiency_longitudinal))
        WHEN 'torispherical_outside' THEN coalesce(
            formula.torispherical_factor_unmet(crown_radius_as_built_mm, knuckle_radius_mm, outside_diameter_mm),
            formula.torispherical_outside_unmet(
                pressure_mpa, outside_crown_radius_mm, torispherical_factor, allowable_stress_mpa,
                efficiency_longitudinal))
        WHEN 'cone_inside' THEN formula.cone_inside_unmet(
            pressure_mpa, inside_diameter_mm, half_apex_angle_deg, allowable_stress_mpa, efficiency_longitudinal)
        WHEN 'cone_outside' THEN formula.cone_outside_unmet(
            pressure_mpa, outside_diameter_mm, half_apex_angle_deg, allowable_stress_mpa, efficiency_longitudinal)
        WHEN 'flat_head' THEN formula.flat_head_unmet(
            flat_head_diameter_mm, flat_head_factor, pressure_mpa, allowable_stress_mpa, efficiency_longitudinal)
    END AS pressure_unmet
FROM joint
