-- How every sheet was understood: which table, which columns, which units, and what became of every cell.
-- grain: file, sheet, table_no
-- reads: fact.sheet
-- column file: source file
-- column sheet: source sheet
-- column table_no: number of the table on the sheet
-- column kind: kind of table, empty where it was not recognised
-- column header_row: row of its heading
-- column columns: columns as understood, as JSON
-- column cells: cells that are not blank
-- column used: cells used
-- column set_aside: cells set aside, each in the ledger
-- column ignored: cells ignored for a stated reason
-- column hidden: the sheet is hidden
-- column ignored_reasons: reasons with their counts, as JSON
SELECT file, sheet, table_no, kind, header_row, columns, cells, used, set_aside, ignored, hidden, ignored_reasons
FROM fact.sheet
ORDER BY file, sheet, table_no
