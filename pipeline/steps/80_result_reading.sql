-- Every thickness reading, whatever became of it.
-- grain: asset, component, location, read_on, file, sheet, cell
-- reads: step.reading
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column read_on: date of the reading
-- column thickness_mm: thickness
-- column status: used, held, superseded, rejected or before epoch
-- column flags: what a person should look at, separated by "; "
-- column held_for: why it is held: likely mistake, same-day conflict or growth
-- column date_precision: day, month or year
-- column text: the cell as it stood
-- column unit: unit as it stood
-- column method: method
-- column inspector: inspector
-- column remark: remark
-- column decided_by: person who accepted or rejected it
-- column decision_reason: reason given
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
SELECT
    asset, component, location, read_on, thickness_mm, status, flags, held_for, date_precision, text, unit, method,
    inspector, remark, decided_by, decision_reason, file, sheet, cell
FROM step.reading
ORDER BY asset, component, location, read_on, record, file, sheet, cell
