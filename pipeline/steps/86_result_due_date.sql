-- Every due date with what set it and the deferral that moves it.
-- grain: asset, kind
-- reads: step.due_date
-- column asset: asset tag
-- column kind: internal, external, thickness, corroded area, relief device or recommendation
-- column state: state of this due date alone
-- column due_on: due date
-- column set_by: what set it
-- column anchor: what the interval counts from
-- column anchor_on: its date
-- column interval_years: interval in force
-- column cap_years: longest interval
-- column cap_from: code cap or assessment
-- column component: component that sets it
-- column location: location that sets it
-- column device: relief device, recommendation or corroded area that sets it
-- column deferred_until: date of the deferral that covers it
-- column deferral_approved_by: who approved it
-- column deferral_approved_on: when
-- column deferral_reason: why
-- column deferral_refused: why a recorded deferral does not cover it
-- column on_stream_refused: why the last on-stream inspection does not stand for an internal one
-- column operating_years_refused: why operating years are not counted, null if they are or need not be
-- column due_missing: what is missing to be sure of it
SELECT
    asset, kind, state, due_on, set_by, anchor, anchor_on, interval_years, cap_years, cap_from, component, location,
    device, deferred_until, deferral_approved_by, deferral_approved_on, deferral_reason, deferral_refused,
    on_stream_refused, operating_years_refused, due_missing
FROM step.due_date
ORDER BY asset, kind
