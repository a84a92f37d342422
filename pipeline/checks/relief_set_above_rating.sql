-- Relief devices set above the rating pressure of the vessel they protect.
SELECT
    file, sheet, cell,
    device AS text,
    'the set pressure is above the MAWP or design pressure of the register: check both' AS reason,
    'the rating pressure of ' || asset || ' stays as the register gives it' AS effect,
    'warning' AS severity
FROM step.relief_device
WHERE set_above_mawp
