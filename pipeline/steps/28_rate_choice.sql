-- Rates chosen by a named person in place of the policy's, for a place or for every place of a component: the last one
-- that counts.
-- grain: asset, component, location
-- reads: step.choice_on_record
-- column asset: asset tag
-- column component: component tag
-- column location: location tag, null where the choice is for every place of the component
-- column rate_choice: long-term, short-term, least squares, fit upper bound, stated, similar service or named rate
-- column chosen_rate_mm_per_year: rate given with the choice
-- column chosen_by: who chose
-- column chosen_on: when
-- column reason: why
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the choice, or of the rate where it names none
SELECT
    asset, component, location, rate_choice, chosen_rate_mm_per_year, chosen_by, chosen_on, reason, file, sheet, cell
FROM step.choice_on_record
WHERE refused IS NULL
-- Of two made on one day the higher rate, so that the order of rows decides nothing.
QUALIFY row_number() OVER (
    PARTITION BY asset, component, location
    ORDER BY chosen_on DESC, chosen_rate_mm_per_year DESC NULLS LAST, rate_choice, chosen_by, reason, file, sheet, cell
) = 1
