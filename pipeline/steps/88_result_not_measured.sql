-- Places that were visited and not measured, with the reason given.
-- grain: asset, component, location, read_on, file, sheet, cell
-- reads: step.miss
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column read_on: date of the visit
-- column reason: why there is no reading
-- column text: the cell as it stood
-- column remark: remark
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
SELECT asset, component, location, visited_on AS read_on, reason, text, remark, file, sheet, cell
FROM step.miss
ORDER BY asset, component, location, visited_on, file, sheet, cell
