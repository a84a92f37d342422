-- Pressure each measured wall holds now and at the next inspection, and the MAWP that leaves at the top of the vessel.
-- grain: asset, component, location
-- reads: step.life, step.place_required, step.pressure_thickness, step.shape, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column t_act_mm: thickness now
-- column t_next_mm: thickness less twice the loss to the next inspection
-- column longitudinal_formula: clause used now for the longitudinal joint of a cylinder
-- column circumferential_formula: clause used now for the circumferential joint of a cylinder
-- column hold_formula: clause used now
-- column holding_pressure_longitudinal_mpa: pressure held now by the longitudinal joint
-- column holding_pressure_circumferential_mpa: pressure held now by the circumferential joint
-- column holding_pressure_mpa: pressure held now
-- column static_head_mpa: static head
-- column rating_pressure_mpa: rating pressure, never exceeded
-- column mawp_mpa: MAWP now
-- column mawp_next_mpa: MAWP at the next inspection
WITH wall AS (
    SELECT
        life.asset, life.component, life.location,
        moment.moment,
        CASE moment.moment WHEN 'now' THEN life.t_act_mm ELSE life.t_next_mm END AS t_mm,
        pressure.kind, pressure.zone, pressure.dimension_form,
        pressure.allowable_stress_mpa AS s_mpa,
        pressure.efficiency_longitudinal AS e_long,
        pressure.efficiency_circumferential AS e_circ,
        pressure.inside_radius_mm, pressure.outside_radius_mm, pressure.inside_diameter_mm,
        pressure.outside_diameter_mm, pressure.crown_radius_mm, pressure.outside_crown_radius_mm,
        pressure.flat_head_diameter_mm, pressure.ellipsoidal_factor, pressure.spherical_factor,
        pressure.torispherical_factor, pressure.half_apex_angle_deg, pressure.flat_head_factor,
        shape.static_head_mpa, shape.rating_pressure_mpa, in_force.thick_wall
    FROM step.life AS life
    JOIN step.place_required AS required USING (asset, component, location)
    CROSS JOIN basis.in_force AS in_force
    JOIN step.pressure_thickness AS pressure
        ON pressure.asset = life.asset
        AND pressure.component = life.component
        AND pressure.zone = required.zone
        AND pressure.region = required.region_counted
        AND pressure.radius_basis = in_force.radius_basis
    JOIN step.shape AS shape
        ON shape.asset = life.asset
        AND shape.component = life.component
    CROSS JOIN (VALUES ('now'), ('next')) AS moment(moment)
    WHERE life.scenario = 'in force'
),

joint_clause AS (
    SELECT
        *,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside'
                THEN CASE
                    WHEN formula.hold_cylinder_longitudinal_inside(s_mpa, e_long, t_mm, inside_radius_mm) IS NOT NULL
                        THEN 'hold_cylinder_longitudinal_inside'
                    WHEN thick_wall = 'exponential' THEN 'hold_cylinder_longitudinal_exponential_inside'
                    ELSE 'hold_cylinder_longitudinal_thick_inside'
                END
            WHEN formula.hold_cylinder_longitudinal_outside(s_mpa, e_long, t_mm, outside_radius_mm) IS NOT NULL
                THEN 'hold_cylinder_longitudinal_outside'
            WHEN thick_wall = 'exponential' THEN 'hold_cylinder_longitudinal_exponential_outside'
            ELSE 'hold_cylinder_longitudinal_thick_outside'
        END AS longitudinal_formula,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside'
                THEN CASE
                    WHEN formula.hold_cylinder_circumferential_inside(s_mpa, e_circ, t_mm, inside_radius_mm)
                        IS NOT NULL THEN 'hold_cylinder_circumferential_inside'
                    ELSE 'hold_cylinder_circumferential_thick_inside'
                END
            WHEN formula.hold_cylinder_circumferential_outside(s_mpa, e_circ, t_mm, outside_radius_mm) IS NOT NULL
                THEN 'hold_cylinder_circumferential_outside'
            ELSE 'hold_cylinder_circumferential_thick_outside'
        END AS circumferential_formula,
        CASE
            WHEN kind IN ('cylinder', 'nozzle') THEN 'hold_cylinder'
            WHEN kind IN ('sphere', 'hemispherical head') OR zone = 'crown'
                THEN CASE
                    WHEN dimension_form = 'inside'
                        AND formula.hold_sphere_inside(s_mpa, e_long, t_mm, inside_radius_mm) IS NOT NULL
                        THEN 'hold_sphere_inside'
                    WHEN dimension_form = 'inside' THEN 'hold_sphere_thick_inside'
                    WHEN formula.hold_sphere_outside(s_mpa, e_long, t_mm, outside_radius_mm) IS NOT NULL
                        THEN 'hold_sphere_outside'
                    ELSE 'hold_sphere_thick_outside'
                END
            WHEN kind = 'ellipsoidal head' THEN 'hold_ellipsoidal_' || dimension_form
            WHEN kind = 'torispherical head' THEN 'hold_torispherical_' || dimension_form
            WHEN kind = 'cone' THEN 'hold_cone_' || dimension_form
            WHEN kind = 'flat head' THEN 'hold_flat_head'
        END AS hold_formula
    FROM wall
),

joint AS (
    SELECT
        *,
        CASE longitudinal_formula
            WHEN 'hold_cylinder_longitudinal_inside'
                THEN formula.hold_cylinder_longitudinal_inside(s_mpa, e_long, t_mm, inside_radius_mm)
            WHEN 'hold_cylinder_longitudinal_thick_inside'
                THEN formula.hold_cylinder_longitudinal_thick_inside(s_mpa, e_long, inside_radius_mm, t_mm)
            WHEN 'hold_cylinder_longitudinal_exponential_inside'
                THEN formula.hold_cylinder_longitudinal_exponential_inside(s_mpa, e_long, inside_radius_mm, t_mm)
            WHEN 'hold_cylinder_longitudinal_outside'
                THEN formula.hold_cylinder_longitudinal_outside(s_mpa, e_long, t_mm, outside_radius_mm)
            WHEN 'hold_cylinder_longitudinal_thick_outside'
                THEN formula.hold_cylinder_longitudinal_thick_outside(s_mpa, e_long, outside_radius_mm, t_mm)
            WHEN 'hold_cylinder_longitudinal_exponential_outside'
                THEN formula.hold_cylinder_longitudinal_exponential_outside(s_mpa, e_long, outside_radius_mm, t_mm)
        END AS holding_pressure_longitudinal_mpa,
        CASE circumferential_formula
            WHEN 'hold_cylinder_circumferential_inside'
                THEN formula.hold_cylinder_circumferential_inside(s_mpa, e_circ, t_mm, inside_radius_mm)
            WHEN 'hold_cylinder_circumferential_thick_inside'
                THEN formula.hold_cylinder_circumferential_thick_inside(s_mpa, e_circ, inside_radius_mm, t_mm)
            WHEN 'hold_cylinder_circumferential_outside'
                THEN formula.hold_cylinder_circumferential_outside(s_mpa, e_circ, t_mm, outside_radius_mm)
            WHEN 'hold_cylinder_circumferential_thick_outside'
                THEN formula.hold_cylinder_circumferential_thick_outside(s_mpa, e_circ, outside_radius_mm, t_mm)
        END AS holding_pressure_circumferential_mpa
    FROM joint_clause
),

held AS (
    SELECT
        *,
        CASE hold_formula
            WHEN 'hold_cylinder' THEN formula.hold_cylinder(
                holding_pressure_longitudinal_mpa, holding_pressure_circumferential_mpa)
            WHEN 'hold_sphere_inside' THEN formula.hold_sphere_inside(s_mpa, e_long, t_mm, inside_radius_mm)
            WHEN 'hold_sphere_thick_inside'
                THEN formula.hold_sphere_thick_inside(s_mpa, e_long, inside_radius_mm, t_mm)
            WHEN 'hold_sphere_outside' THEN formula.hold_sphere_outside(s_mpa, e_long, t_mm, outside_radius_mm)
            WHEN 'hold_sphere_thick_outside'
                THEN formula.hold_sphere_thick_outside(s_mpa, e_long, outside_radius_mm, t_mm)
            WHEN 'hold_ellipsoidal_inside' THEN formula.hold_ellipsoidal_inside(
                s_mpa, e_long, t_mm, ellipsoidal_factor, inside_diameter_mm, spherical_factor)
            WHEN 'hold_ellipsoidal_outside' THEN formula.hold_ellipsoidal_outside(
                s_mpa, e_long, t_mm, ellipsoidal_factor, outside_diameter_mm, spherical_factor)
            WHEN 'hold_torispherical_inside' THEN formula.hold_torispherical_inside(
                s_mpa, e_long, t_mm, crown_radius_mm, torispherical_factor)
            WHEN 'hold_torispherical_outside' THEN formula.hold_torispherical_outside(
                s_mpa, e_long, t_mm, torispherical_factor, outside_crown_radius_mm)
            WHEN 'hold_cone_inside' THEN formula.hold_cone_inside(
                s_mpa, e_long, t_mm, half_apex_angle_deg, inside_diameter_mm)
            WHEN 'hold_cone_outside' THEN formula.hold_cone_outside(
                s_mpa, e_long, t_mm, half_apex_angle_deg, outside_diameter_mm)
            WHEN 'hold_flat_head' THEN formula.hold_flat_head(
                s_mpa, e_long, t_mm, flat_head_diameter_mm, flat_head_factor)
        END AS holding_pressure_mpa
    FROM joint
),

topped AS (
    SELECT
        *,
        formula.mawp(rating_pressure_mpa, holding_pressure_mpa, static_head_mpa) AS mawp_mpa
    FROM held
)

SELECT
    asset, component, location,
    min(t_mm) FILTER (moment = 'now') AS t_act_mm,
    min(t_mm) FILTER (moment = 'next') AS t_next_mm,
    min(longitudinal_formula) FILTER (moment = 'now') AS longitudinal_formula,
    min(circumferential_formula) FILTER (moment = 'now') AS circumferential_formula,
    min(hold_formula) FILTER (moment = 'now') AS hold_formula,
    min(holding_pressure_longitudinal_mpa) FILTER (moment = 'now') AS holding_pressure_longitudinal_mpa,
    min(holding_pressure_circumferential_mpa) FILTER (moment = 'now') AS holding_pressure_circumferential_mpa,
    min(holding_pressure_mpa) FILTER (moment = 'now') AS holding_pressure_mpa,
    min(static_head_mpa) AS static_head_mpa,
    min(rating_pressure_mpa) AS rating_pressure_mpa,
    min(mawp_mpa) FILTER (moment = 'now') AS mawp_mpa,
    min(mawp_mpa) FILTER (moment = 'next') AS mawp_next_mpa
FROM topped
GROUP BY asset, component, location
