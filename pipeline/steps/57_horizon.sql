-- How far an asset must reach: the end of the turnaround after the next one, or of the next where no other is known.
-- grain: must_reach_on
-- reads: step.turnaround
-- column must_reach_on: date to be reached, null without turnarounds
-- column next_name: name of the next turnaround
-- column next_start_on: its first day
-- column after_name: name of the turnaround after it
SELECT
    coalesce(
        min(end_on) FILTER (turnaround_no = 2),
        min(end_on) FILTER (turnaround_no = 1)
    ) AS must_reach_on,
    min(name) FILTER (turnaround_no = 1) AS next_name,
    min(start_on) FILTER (turnaround_no = 1) AS next_start_on,
    min(name) FILTER (turnaround_no = 2) AS after_name
FROM step.turnaround
