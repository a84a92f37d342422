-- Every source file with its hash and what became of its rows.
-- grain: file
-- reads: fact.source, step.reading
-- column file: file, relative to the folder
-- column sha256: hash of its content
-- column size: size in bytes
-- column rows_read: data rows of all its tables
-- column rows_used: rows of which every cell was used
-- column rows_set_aside: rows of which a cell was set aside by the intake
-- column readings_held: readings held by the checks
SELECT
    source.file, sha256, size, rows_read, rows_used, rows_set_aside,
    (SELECT count(*) FROM step.reading AS reading WHERE reading.file = source.file AND status = 'held')
        AS readings_held
FROM fact.source AS source
ORDER BY source.file
