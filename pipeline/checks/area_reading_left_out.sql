-- Readings of corroded areas that are likely mistakes, as a reading of a place would be.
SELECT
    file, sheet, cell, text,
    left_out_because || ': correct it, or measure again' AS reason,
    'thickness of ' || asset || ' ' || component || ', area ' || area || coalesce(' on ' || read_on, '')
        || ' is left out; the area is not assessable without it' AS effect,
    'set aside' AS severity
FROM step.area_stated
WHERE is_mistake
