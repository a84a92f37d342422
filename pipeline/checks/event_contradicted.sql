-- Events whose rows state two thicknesses: neither is the initial one.
SELECT
    file, sheet, cell, event AS text,
    'two rows state different thicknesses for the event of ' || event_on || ': correct one of them' AS reason,
    'new thickness of ' || asset || coalesce(' ' || component, '') || ' on ' || event_on || ' is not used' AS effect,
    'set aside' AS severity
FROM step.event
WHERE contradictory
