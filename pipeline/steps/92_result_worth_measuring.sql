-- What one measurement is worth, the most days gained first.
-- grain: asset, component, location, measurement, kind
-- reads: step.worth_measuring
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column measurement: weld distance, or thickness
-- column kind: kind of due date it would move, or required thickness where only the verdict would change
-- column due_on: due date as it stands, null where only the verdict would change
-- column due_if_on: due date were the place away from the weld, or its last reading thicker by the scatter
-- column due_else_on: due date were the last reading thinner by the scatter, null for a weld distance
-- column worth_days: days gained, null where only the verdict would change
-- column remaining_life_years: remaining life as it stands
-- column remaining_life_if_years: remaining life in the better case, null without end or unknown
-- column is_below_required: the place is below required as it stands
-- column clears_below_required: it would not be in the better case
-- column t_act_mm: last reading
-- column read_on: its date
-- column t_req_mm: required thickness as it stands
-- column t_req_if_mm: required thickness in the better case
-- column weld_region_half_width_mm: half-width of the weld region, null for a thickness
SELECT
    asset, component, location, measurement, kind, due_on, due_if_on, due_else_on, worth_days, remaining_life_years,
    remaining_life_if_years, is_below_required, clears_below_required, t_act_mm, read_on, t_req_mm, t_req_if_mm,
    weld_region_half_width_mm
FROM step.worth_measuring
ORDER BY clears_below_required DESC, worth_days DESC NULLS LAST, asset, component, location, measurement, kind
