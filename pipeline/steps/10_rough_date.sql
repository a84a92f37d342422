-- Dates of the registers known to the month or the year only: between which days each lies.
-- grain: kind, record, field, file, sheet, cell
-- reads: fact.field
-- column kind: sheet it stands on
-- column record: order in which the rows were read
-- column field: column of the spreadsheet vocabulary
-- column asset: asset tag, null where the row is about none
-- column component: component tag, null where the row is about none
-- column date_precision: month or year
-- column first_on: first day it can be
-- column last_on: last day it can be
-- column text: the cell as it stood
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
SELECT
    kind, record, field, asset, component, date_precision,
    on_date AS first_on,
    CASE date_precision WHEN 'year' THEN make_date(year(on_date), 12, 31) ELSE last_day(on_date) END AS last_on,
    text, file, sheet, cell
FROM fact.field
WHERE on_date IS NOT NULL AND date_precision IN ('month', 'year')
