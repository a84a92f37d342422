-- Pressure each measured wall holds now and at the next inspection, and the MAWP that leaves at the top of the vessel.
-- grain: asset, component, location
-- reads: step.life, step.pressure_thickness, step.shape, step.thin_head, step.turnaround, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column t_act_mm: thickness now
-- column t_next_mm: thickness less twice the loss to the next inspection
-- column longitudinal_formula: clause used now for the longitudinal joint of a cylinder
-- column circumferential_formula: clause used now for the circumferential joint of a cylinder
-- column hold_formula: clause used now
-- column plain_hold_formula: plain formula of a head now thinner than 0.002 of its crown radius, null where it is not
-- column plain_holding_pressure_mpa: its result now
-- column thin_head_allowed_mpa: pressure the knuckle of such a head is allowed now
-- column holding_pressure_longitudinal_mpa: pressure held now by the longitudinal joint
-- column holding_pressure_circumferential_mpa: pressure held now by the circumferential joint
-- column holding_pressure_mpa: pressure held now
-- column not_held_because: what a head thinner than 0.002 of its crown radius lacks to know it, null if nothing
-- column static_head_mpa: static head
-- column rating_pressure_mpa: rating pressure, never exceeded
-- column mawp_mpa: MAWP now
-- column mawp_next_mpa: MAWP at the next inspection
-- column next_longitudinal_formula: clause used at the next inspection for the longitudinal joint of a cylinder
-- column next_circumferential_formula: clause used then for its circumferential joint
-- column next_hold_formula: clause used then
-- column next_plain_hold_formula: plain formula of a head then thinner than 0.002 of its crown radius
-- column next_plain_holding_pressure_mpa: its result then
-- column next_thin_head_allowed_mpa: pressure the knuckle of such a head is allowed then
-- column next_holding_pressure_longitudinal_mpa: pressure held then by the longitudinal joint
-- column next_holding_pressure_circumferential_mpa: pressure held then by the circumferential joint
-- column next_holding_pressure_mpa: pressure held then
-- column mawp_turnaround_mpa: MAWP at the start of the next turnaround, after twice the loss until then
-- column mawp_after_mpa: the same at the start of the turnaround after it
WITH moment AS (
    SELECT 'now' AS moment, NULL::DATE AS moment_on
    UNION ALL
    SELECT 'next', NULL
    UNION ALL
    SELECT CASE turnaround_no WHEN 1 THEN 'turnaround' ELSE 'after' END, start_on
    FROM step.turnaround
    WHERE turnaround_no <= 2 AND start_on IS NOT NULL
),

wall AS (
    SELECT
        life.asset, life.component, life.location,
        moment.moment,
        CASE
            WHEN moment.moment = 'now' OR moment.moment_on <= life.read_on THEN life.t_act_mm
            WHEN moment.moment = 'next' THEN life.t_next_mm
            ELSE formula.thickness_at_next(
                life.t_act_mm, life.rate_mm_per_year,
                formula.years_between(date_diff('day', life.read_on, moment.moment_on), in_force.days_per_year))
        END AS t_mm,
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
    CROSS JOIN basis.in_force AS in_force
    JOIN step.pressure_thickness AS pressure
        ON pressure.asset = life.asset
        AND pressure.component = life.component
        AND pressure.zone = life.zone
        AND pressure.region = life.region_counted
        AND pressure.radius_basis = in_force.radius_basis
    JOIN step.shape AS shape
        ON shape.asset = life.asset
        AND shape.component = life.component
    CROSS JOIN moment
    WHERE life.scenario = 'in force'
),

-- A formed head worn, or built, thinner than 0.002 of its crown radius. Each part of its rule stands in a table of its
-- own: written into one another the clauses would grow beyond what the database can plan.
thinned AS MATERIALIZED (
    SELECT
        *,
        CASE
            WHEN zone <> 'general' THEN NULL
            WHEN kind = 'ellipsoidal head' AND dimension_form = 'inside'
                AND formula.hold_ellipsoidal_inside(
                    s_mpa, e_long, t_mm, ellipsoidal_factor, inside_diameter_mm, spherical_factor) IS NULL
                THEN 'hold_ellipsoidal_inside_thin'
            WHEN kind = 'ellipsoidal head' AND dimension_form = 'outside'
                AND formula.hold_ellipsoidal_outside(
                    s_mpa, e_long, t_mm, ellipsoidal_factor, outside_diameter_mm, spherical_factor) IS NULL
                THEN 'hold_ellipsoidal_outside_thin'
            WHEN kind = 'torispherical head' AND dimension_form = 'inside'
                AND formula.hold_torispherical_inside(
                    s_mpa, e_long, t_mm, crown_radius_mm, torispherical_factor) IS NULL
                THEN 'hold_torispherical_inside_thin'
            WHEN kind = 'torispherical head' AND dimension_form = 'outside'
                AND formula.hold_torispherical_outside(
                    s_mpa, e_long, t_mm, torispherical_factor, outside_crown_radius_mm) IS NULL
                THEN 'hold_torispherical_outside_thin'
        END AS plain_hold_formula
    FROM wall
),

-- What the knuckle of such a head is allowed; few heads are that thin.
angled AS MATERIALIZED (
    SELECT
        thinned.*,
        thin_head.* EXCLUDE (asset, component, pressure_mpa),
        formula.thin_head_angle(equivalent_crown_radius_mm, t_mm, equivalent_knuckle_radius_mm) AS knuckle_angle
    FROM thinned
    JOIN step.thin_head AS thin_head USING (asset, component)
    WHERE plain_hold_formula IS NOT NULL
),

turned AS MATERIALIZED (
    SELECT
        *,
        formula.thin_head_radius(
            equivalent_knuckle_radius_mm, inside_diameter_as_built_mm, knuckle_cosine, knuckle_angle
        ) AS knuckle_buckling_radius_mm
    FROM angled
),

buckled AS MATERIALIZED (
    SELECT
        *,
        formula.thin_head_elastic_pressure(
            knuckle_factor_1, elastic_modulus_mpa, t_mm, equivalent_knuckle_radius_mm, knuckle_factor_2,
            knuckle_buckling_radius_mm) AS knuckle_elastic_pressure_mpa,
        formula.thin_head_yield_pressure(
            yield_strength_mpa, t_mm, knuckle_factor_2, knuckle_buckling_radius_mm, equivalent_knuckle_radius_mm
        ) AS knuckle_yield_pressure_mpa
    FROM turned
),

knuckled AS MATERIALIZED (
    SELECT
        *,
        CASE plain_hold_formula
            WHEN 'hold_ellipsoidal_inside_thin' THEN formula.hold_ellipsoidal_inside_thin(
                s_mpa, e_long, t_mm, ellipsoidal_factor, inside_diameter_mm, spherical_factor)
            WHEN 'hold_ellipsoidal_outside_thin' THEN formula.hold_ellipsoidal_outside_thin(
                s_mpa, e_long, t_mm, ellipsoidal_factor, outside_diameter_mm, spherical_factor)
            WHEN 'hold_torispherical_inside_thin' THEN formula.hold_torispherical_inside_thin(
                s_mpa, e_long, t_mm, crown_radius_mm, torispherical_factor)
            WHEN 'hold_torispherical_outside_thin' THEN formula.hold_torispherical_outside_thin(
                s_mpa, e_long, t_mm, torispherical_factor, outside_crown_radius_mm)
        END AS plain_holding_pressure_mpa,
        formula.thin_head_allowed(knuckle_elastic_pressure_mpa, knuckle_yield_pressure_mpa) AS thin_head_allowed_mpa
    FROM buckled
),

-- Where the plant takes the exponential form, a wall is asked by the clause that would require it: the exponential one
-- if the pressure it gives is beyond the thin-wall limit.
exponential AS (
    SELECT
        thinned.*,
        knuckled.plain_holding_pressure_mpa, knuckled.thin_head_allowed_mpa,
        knuckled.equivalent_outside_crown_radius_mm, knuckled.elastic_modulus_mpa, knuckled.yield_strength_mpa,
        knuckled.knuckle_missing,
        CASE
            WHEN thinned.thick_wall <> 'exponential' OR thinned.kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN thinned.dimension_form = 'inside' THEN formula.hold_cylinder_longitudinal_exponential_inside(
                thinned.s_mpa, thinned.e_long, thinned.inside_radius_mm, thinned.t_mm)
            ELSE formula.hold_cylinder_longitudinal_exponential_outside(
                thinned.s_mpa, thinned.e_long, thinned.outside_radius_mm, thinned.t_mm)
        END AS exponential_mpa
    FROM thinned
    LEFT JOIN knuckled USING (asset, component, location, moment)
),

-- The thin-wall clause of each joint comes first; where it does not hold, the thick-wall one does.
thin_wall AS (
    SELECT
        *,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside'
                THEN formula.hold_cylinder_longitudinal_inside(s_mpa, e_long, t_mm, inside_radius_mm)
            ELSE formula.hold_cylinder_longitudinal_outside(s_mpa, e_long, t_mm, outside_radius_mm)
        END AS longitudinal_thin_mpa,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside'
                THEN formula.hold_cylinder_circumferential_inside(s_mpa, e_circ, t_mm, inside_radius_mm)
            ELSE formula.hold_cylinder_circumferential_outside(s_mpa, e_circ, t_mm, outside_radius_mm)
        END AS circumferential_thin_mpa,
        CASE
            WHEN kind NOT IN ('sphere', 'hemispherical head') AND zone <> 'crown' THEN NULL
            WHEN dimension_form = 'inside' THEN formula.hold_sphere_inside(s_mpa, e_long, t_mm, inside_radius_mm)
            ELSE formula.hold_sphere_outside(s_mpa, e_long, t_mm, outside_radius_mm)
        END AS sphere_thin_mpa
    FROM exponential
),

joint_clause AS (
    SELECT
        *,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside' AND exponential_mpa > 0
                AND formula.cylinder_longitudinal_inside(exponential_mpa, inside_radius_mm, s_mpa, e_long) IS NULL
                THEN 'hold_cylinder_longitudinal_exponential_inside'
            WHEN dimension_form = 'outside' AND exponential_mpa > 0
                AND formula.cylinder_longitudinal_outside(exponential_mpa, outside_radius_mm, s_mpa, e_long) IS NULL
                THEN 'hold_cylinder_longitudinal_exponential_outside'
            WHEN dimension_form = 'inside'
                THEN CASE
                    WHEN longitudinal_thin_mpa IS NOT NULL THEN 'hold_cylinder_longitudinal_inside'
                    WHEN thick_wall = 'exponential' THEN 'hold_cylinder_longitudinal_exponential_inside'
                    ELSE 'hold_cylinder_longitudinal_thick_inside'
                END
            WHEN longitudinal_thin_mpa IS NOT NULL THEN 'hold_cylinder_longitudinal_outside'
            WHEN thick_wall = 'exponential' THEN 'hold_cylinder_longitudinal_exponential_outside'
            ELSE 'hold_cylinder_longitudinal_thick_outside'
        END AS longitudinal_formula,
        CASE
            WHEN kind NOT IN ('cylinder', 'nozzle') THEN NULL
            WHEN dimension_form = 'inside'
                THEN CASE
                    WHEN circumferential_thin_mpa IS NOT NULL THEN 'hold_cylinder_circumferential_inside'
                    ELSE 'hold_cylinder_circumferential_thick_inside'
                END
            WHEN circumferential_thin_mpa IS NOT NULL THEN 'hold_cylinder_circumferential_outside'
            ELSE 'hold_cylinder_circumferential_thick_outside'
        END AS circumferential_formula,
        CASE
            WHEN kind IN ('cylinder', 'nozzle') THEN 'hold_cylinder'
            WHEN kind IN ('sphere', 'hemispherical head') OR zone = 'crown'
                THEN CASE
                    WHEN dimension_form = 'inside' AND sphere_thin_mpa IS NOT NULL THEN 'hold_sphere_inside'
                    WHEN dimension_form = 'inside' THEN 'hold_sphere_thick_inside'
                    WHEN sphere_thin_mpa IS NOT NULL THEN 'hold_sphere_outside'
                    ELSE 'hold_sphere_thick_outside'
                END
            WHEN plain_holding_pressure_mpa IS NOT NULL THEN 'hold_thin_head'
            WHEN kind = 'ellipsoidal head' THEN 'hold_ellipsoidal_' || dimension_form
            WHEN kind = 'torispherical head' THEN 'hold_torispherical_' || dimension_form
            WHEN kind = 'cone' THEN 'hold_cone_' || dimension_form
            WHEN kind = 'flat head' THEN 'hold_flat_head'
        END AS hold_formula
    FROM thin_wall
),

joint AS (
    SELECT
        *,
        CASE longitudinal_formula
            WHEN 'hold_cylinder_longitudinal_inside' THEN longitudinal_thin_mpa
            WHEN 'hold_cylinder_longitudinal_thick_inside'
                THEN formula.hold_cylinder_longitudinal_thick_inside(s_mpa, e_long, inside_radius_mm, t_mm)
            WHEN 'hold_cylinder_longitudinal_exponential_inside'
                THEN formula.hold_cylinder_longitudinal_exponential_inside(s_mpa, e_long, inside_radius_mm, t_mm)
            WHEN 'hold_cylinder_longitudinal_outside' THEN longitudinal_thin_mpa
            WHEN 'hold_cylinder_longitudinal_thick_outside'
                THEN formula.hold_cylinder_longitudinal_thick_outside(s_mpa, e_long, outside_radius_mm, t_mm)
            WHEN 'hold_cylinder_longitudinal_exponential_outside'
                THEN formula.hold_cylinder_longitudinal_exponential_outside(s_mpa, e_long, outside_radius_mm, t_mm)
        END AS holding_pressure_longitudinal_mpa,
        CASE circumferential_formula
            WHEN 'hold_cylinder_circumferential_inside' THEN circumferential_thin_mpa
            WHEN 'hold_cylinder_circumferential_thick_inside'
                THEN formula.hold_cylinder_circumferential_thick_inside(s_mpa, e_circ, inside_radius_mm, t_mm)
            WHEN 'hold_cylinder_circumferential_outside' THEN circumferential_thin_mpa
            WHEN 'hold_cylinder_circumferential_thick_outside'
                THEN formula.hold_cylinder_circumferential_thick_outside(s_mpa, e_circ, outside_radius_mm, t_mm)
        END AS holding_pressure_circumferential_mpa
    FROM joint_clause
),

held AS MATERIALIZED (
    SELECT
        *,
        CASE hold_formula
            WHEN 'hold_cylinder' THEN formula.hold_cylinder(
                holding_pressure_longitudinal_mpa, holding_pressure_circumferential_mpa)
            WHEN 'hold_sphere_inside' THEN sphere_thin_mpa
            WHEN 'hold_sphere_thick_inside'
                THEN formula.hold_sphere_thick_inside(s_mpa, e_long, inside_radius_mm, t_mm)
            WHEN 'hold_sphere_outside' THEN sphere_thin_mpa
            WHEN 'hold_sphere_thick_outside'
                THEN formula.hold_sphere_thick_outside(s_mpa, e_long, outside_radius_mm, t_mm)
            WHEN 'hold_thin_head' THEN formula.hold_thin_head(
                plain_holding_pressure_mpa, thin_head_allowed_mpa, t_mm, equivalent_outside_crown_radius_mm)
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
        formula.mawp(rating_pressure_mpa, holding_pressure_mpa, static_head_mpa) AS mawp_mpa,
        CASE
            WHEN hold_formula <> 'hold_thin_head' OR holding_pressure_mpa IS NOT NULL THEN NULL
            WHEN elastic_modulus_mpa IS NULL OR yield_strength_mpa IS NULL THEN concat_ws(', ',
                CASE WHEN elastic_modulus_mpa IS NULL THEN 'elastic modulus' END,
                CASE WHEN yield_strength_mpa IS NULL THEN 'yield strength' END)
            ELSE coalesce(
                formula.hold_thin_head_unmet(
                    plain_holding_pressure_mpa, thin_head_allowed_mpa, t_mm, equivalent_outside_crown_radius_mm),
                knuckle_missing)
        END AS not_held_because
    FROM held
)

SELECT
    asset, component, location,
    min(t_mm) FILTER (moment = 'now') AS t_act_mm,
    min(t_mm) FILTER (moment = 'next') AS t_next_mm,
    min(longitudinal_formula) FILTER (moment = 'now') AS longitudinal_formula,
    min(circumferential_formula) FILTER (moment = 'now') AS circumferential_formula,
    min(hold_formula) FILTER (moment = 'now') AS hold_formula,
    min(plain_hold_formula) FILTER (moment = 'now' AND plain_holding_pressure_mpa IS NOT NULL) AS plain_hold_formula,
    min(plain_holding_pressure_mpa) FILTER (moment = 'now') AS plain_holding_pressure_mpa,
    min(thin_head_allowed_mpa) FILTER (moment = 'now') AS thin_head_allowed_mpa,
    min(holding_pressure_longitudinal_mpa) FILTER (moment = 'now') AS holding_pressure_longitudinal_mpa,
    min(holding_pressure_circumferential_mpa) FILTER (moment = 'now') AS holding_pressure_circumferential_mpa,
    min(holding_pressure_mpa) FILTER (moment = 'now') AS holding_pressure_mpa,
    min(not_held_because) FILTER (moment = 'now') AS not_held_because,
    min(static_head_mpa) AS static_head_mpa,
    min(rating_pressure_mpa) AS rating_pressure_mpa,
    min(mawp_mpa) FILTER (moment = 'now') AS mawp_mpa,
    min(mawp_mpa) FILTER (moment = 'next') AS mawp_next_mpa,
    min(longitudinal_formula) FILTER (moment = 'next') AS next_longitudinal_formula,
    min(circumferential_formula) FILTER (moment = 'next') AS next_circumferential_formula,
    min(hold_formula) FILTER (moment = 'next') AS next_hold_formula,
    min(plain_hold_formula) FILTER (moment = 'next' AND plain_holding_pressure_mpa IS NOT NULL)
        AS next_plain_hold_formula,
    min(plain_holding_pressure_mpa) FILTER (moment = 'next') AS next_plain_holding_pressure_mpa,
    min(thin_head_allowed_mpa) FILTER (moment = 'next') AS next_thin_head_allowed_mpa,
    min(holding_pressure_longitudinal_mpa) FILTER (moment = 'next') AS next_holding_pressure_longitudinal_mpa,
    min(holding_pressure_circumferential_mpa) FILTER (moment = 'next') AS next_holding_pressure_circumferential_mpa,
    min(holding_pressure_mpa) FILTER (moment = 'next') AS next_holding_pressure_mpa,
    min(mawp_mpa) FILTER (moment = 'turnaround') AS mawp_turnaround_mpa,
    min(mawp_mpa) FILTER (moment = 'after') AS mawp_after_mpa
FROM topped
GROUP BY asset, component, location
