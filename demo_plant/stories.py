"""The planted stories as data: what was measured, what the registers lack, when things were last inspected.

Lengths in inches. `answers.py` works out what a person should conclude; nothing here is a result.
"""

from __future__ import annotations

from datetime import date
from typing import NamedTuple


class Story(NamedTuple):
    """One planted story and the state the vessel should be in."""

    key: str
    title: str
    tag: str
    component: str
    location: str
    state: str
    lesson: str


STORIES: tuple[Story, ...] = (
    Story("1", "A patch that passes away from the weld and would fail at it", "D-203", "Shell 1", "4", "in date",
          "The patch is 8 in from the weld, farther than 1 in and than twice the required thickness: E = 1 counts."),
    Story("2", "The verdict turns on a weld distance nobody wrote down", "D-204", "Shell 1", "3", "below required",
          "Between the two required thicknesses; unknown counts as weld. A tape measure may settle it."),
    Story("3", "The last reading is thicker than the one before", "C-202", "Shell 2", "5", "due by turnaround",
          "0.030 in of growth is beyond scatter: held. The date rests on the reading before; both dates are shown."),
    Story("4a", "A contractor's survey in mm amid inches, said in its header", "E-105", "Shell", "2", "in date",
          "Converted: 8.28 mm is in force."),
    Story("4b", "A column of mm under an inch header", "V-107", "Shell 1", "3", "in date",
          "About 25.4 times its neighbours: the whole column is set aside, likely unit mm."),
    Story("5", "A shell course replaced in 2019", "C-301", "Shell 2", "TP-03", "in date",
          "The rate counts from the new plate only; across the replacement it would look like growth."),
    Story("6", "The joint efficiency is missing", "V-108", "Shell 1", "", "not assessable",
          "One datum settles it: the joint efficiency of Shell 1."),
    Story("7", "Internal inspection overdue", "R-102", "", "", "overdue", "Ten years ran out in May 2025."),
    Story("8", "Due between the two turnarounds", "C-203", "", "", "due by turnaround",
          "The internal falls due in June 2028: it must be done in TA 2027, before that day."),
    Story("9", "The crown passes, the knuckle fails", "V-304", "West head", "TP-03", "below required",
          "Same thickness at TP-01 (crown) and TP-03 (knuckle); the crown needs only a sphere's thickness."),
    Story("10", "A relief device past its interval", "V-306", "", "", "overdue", "Five years ran out in October 2025."),
    Story("11", "A vessel no one has measured", "V-410", "Shell 1", "", "overdue",
          "Locations are marked, no survey was ever made: no rate is known, and its first check is two years late."),
    Story("12", "A deferral approved in time", "C-102", "", "", "deferred until",
          "Approved before the due date; the original due date stays visible."),
    Story("13", "A deferral approved too late", "E-204", "", "", "overdue",
          "Approved three weeks after the due date: it does not count."),
    Story("14", "A component of unknown kind", "V-409", "West head", "", "not assessable",
          "'bumped head' is not an accepted kind: which head formula holds is unknown."),
    Story("15", "A single reading, judged from nominal", "V-411", "Shell 1", "TP-05", "in date",
          "Rate from nominal thickness at the in-service date; the record says so."),
    Story("16", "No measurable loss", "V-404", "Shell 1", "TP-01", "in date",
          "Dry nitrogen: rate zero, no end of life, the interval is the cap."),
    Story("17", "An interval set by an assessment", "R-301", "", "", "in date",
          "Twelve years instead of ten, by a named, dated and approved assessment."),
    Story("18", "An external inspection deferred in time", "E-302", "", "", "deferred until",
          "Approved before the due date."),
    Story("19", "A flange class where the MAWP belongs", "V-109", "", "", "not assessable",
          "'150#' is no pressure, and there is no design pressure: nothing can be required of the wall."),
    Story("20", "An allowable stress that cannot be read", "C-303", "Shell 2", "", "not assessable",
          "'see U-1' is no stress."),
    Story("21", "External inspection overdue", "E-106", "", "", "overdue", "Five years ran out in March 2026."),
    Story("22", "A vessel left out of the surveys since 2013", "E-307", "", "", "overdue",
          "The interval of its last readings has run out."),
    Story("23", "A weld reading below required", "D-209", "Shell 1", "2", "below required",
          "Measured at the weld and thinner than required there: no doubt about it."),
    Story("24", "A nozzle neck below required", "E-405", "N1", "TP-02", "below required",
          "The neck needs what the shell needs at E = 1, which is less than 7/8 of standard wall here."),
    Story("25", "No access, twice in a row", "V-403", "N1", "TP-02", "due by turnaround",
          "Last read in 2017: the ten years end in May 2027, whatever the other locations say."),
    Story("26", "A corroded area whose lowest reading fails and whose average passes", "V-402", "Shell 1", "",
          "in date", "One reading is below required; averaged over the length the code allows, the area is above it."),
    Story("27", "A recommendation with a due date of its own", "R-303", "", "", "due by turnaround",
          "Raised after the external inspection; it must be closed with evidence before June 2027."),
)  # fmt: skip

#: Readings of the story locations, one for each survey of the vessel, oldest first; None is "no access".
READINGS: dict[tuple[str, str, str], tuple[float | None, ...]] = {
    ("D-203", "Shell 1", "4"): (0.532, 0.517, 0.501, 0.487, 0.473, 0.458),
    ("D-204", "Shell 1", "3"): (0.520, 0.503, 0.486, 0.470, 0.455, 0.440),
    ("C-202", "Shell 2", "5"): (0.500, 0.484, 0.468, 0.452, 0.438, 0.468),
    ("E-105", "Shell", "2"): (0.352, 0.345, 0.338, 0.332, 0.326, 0.319),
    ("C-301", "Shell 2", "TP-01"): (0.431, 0.414, 0.396, 0.377, 0.435, 0.431),
    ("C-301", "Shell 2", "TP-02"): (0.438, 0.419, 0.401, 0.384, 0.433, 0.429),
    ("C-301", "Shell 2", "TP-03"): (0.430, 0.409, 0.386, 0.361, 0.434, 0.428),
    ("C-301", "Shell 2", "TP-04"): (0.436, 0.420, 0.402, 0.385, 0.436, 0.432),
    ("C-301", "Shell 2", "TP-05"): (0.433, 0.415, 0.399, 0.381, 0.437, 0.432),
    ("C-301", "Shell 2", "TP-06"): (0.437, 0.421, 0.404, 0.389, 0.435, 0.431),
    ("C-301", "Shell 2", "TP-07"): (0.432, 0.413, 0.394, 0.374, 0.434, 0.430),
    ("V-304", "West head", "TP-01"): (0.845, 0.825, 0.810, 0.786, 0.764, 0.740),
    ("V-304", "West head", "TP-03"): (0.842, 0.826, 0.808, 0.788, 0.762, 0.740),
    ("V-411", "Shell 1", "TP-05"): (0.262,),
    ("V-404", "Shell 1", "TP-01"): (0.503, 0.505, 0.502, 0.504, 0.503, 0.504),
    ("D-209", "Shell 1", "2"): (0.385, 0.367, 0.349, 0.331, 0.315, 0.298),
    ("E-405", "N1", "TP-02"): (0.217, 0.202, 0.187, 0.171, 0.153, 0.138),
    ("V-403", "N1", "TP-02"): (0.506, 0.505, 0.504, 0.503, None, None),
}

#: Distance to the nearest weld in inches, or the word, of the story locations.
WELD_DISTANCES: dict[tuple[str, str, str], tuple[float | None, str]] = {
    ("D-203", "Shell 1", "4"): (8, ""),
    ("D-204", "Shell 1", "3"): (None, ""),
    ("C-202", "Shell 2", "5"): (None, ""),
    ("E-105", "Shell", "2"): (None, ""),
    ("C-301", "Shell 2", "TP-03"): (None, ""),
    ("D-209", "Shell 1", "2"): (None, "weld"),
    ("V-404", "Shell 1", "TP-01"): (None, ""),
    ("V-411", "Shell 1", "TP-05"): (None, ""),
}

#: What the registers lack or say oddly.
KIND_SPELLINGS = {("V-409", "West head"): "bumped head"}
MISSING_EFFICIENCIES = (("V-108", "Shell 1"),)
UNREADABLE_STRESSES = {("C-303", "Shell 2"): "see U-1"}
FLANGE_CLASS_FOR_MAWP = {"V-109": "150#"}
FLANGE_CLASS_FOR_SET_PRESSURE = {"V-102": "300#"}
ROUGH_WELD_DISTANCES = {("V-101", "Shell 1", "3"): "~2"}

#: First and last day of the time a vessel was left out of the surveys.
NOT_SURVEYED = {
    "V-410": (date.min, date.max),
    "V-411": (date.min, date(2026, 1, 1)),
    "E-307": (date(2014, 1, 1), date.max),
}


def surveyed(tag: str, day: date) -> bool:
    """Whether a survey of that day took in the vessel."""
    first, last = NOT_SURVEYED.get(tag, (date.max, date.min))
    return not first <= day <= last


#: The survey whose column was typed in mm under an inch header (story 4b).
MM_COLUMN = ("V-107", 2014)
#: A vessel whose 2014 cells hold a fraction that the spreadsheet program took for a date, and other spoiled cells,
#: by the year of the survey.
SPOILED_READINGS: dict[tuple[str, str, str, int], tuple[str | date, str]] = {
    ("D-202", "Shell 1", "3", 2014): (date(2014, 3, 8), "a date; probably the fraction 3/8"),
    ("C-101", "Shell 2", "4", 2010): ("-0.461", "negative thickness"),
    ("E-101", "Shell", "1", 2010): ("<0.40", "a bound, not a reading"),
    ("V-103", "West head", "2", 2014): ("smudged", "no number can be read"),
    ("V-301", "Shell 1", "TP-02", 2013): ("#REF!", "the spreadsheet's own error value"),
    ("V-301", "Shell 2", "TP-01", 2013): ("=1/0", "a formula without a stored result"),
}
#: Two readings in one cell: the smaller counts.
DOUBLE_READINGS = (("V-401", "Shell 1", "TP-05", 2013),)

#: Remarks of the technicians, by the year of the survey.
REMARKS = {
    ("C-202", "Shell 2", "5", 2025): "read over new paint",
    ("D-203", "Shell 1", "4", 2021): "patch of local attack, 8 in from the weld",
    ("D-203", "Shell 1", "4", 2025): "patch as before",
    ("V-411", "Shell 1", "TP-05", 2026): "first survey",
}

#: Extra rows of the long survey that cannot be used: tag, component, location, date, thickness (in), remark, why.
STRAY_ROWS = (
    ("V-302", "Shell 1", "TP-02", "03/05/2023", "0.377", "check reading", "3 May or 5 March? Both orders are valid"),
    ("V-302", "Shell 1", "TP-04", "2023-05-09", "0", "check reading", "0 is never a thickness"),
    ("V-401", "Shell 1", "TP-03", "2023-05-09", "~0.39", "check reading", "an estimate, not a reading"),
    ("V-408", "Shell 1", "TP-01", "2024-02-14", "3.05", "check reading", "ten times its neighbours: a shifted point"),
    ("", "Shell 1", "TP-03", "2024-02-14", "0.305", "tag missing on card", "no vessel named"),
    ("V-406", "Shell 1", "TP-06", "2027-02-10", "0.250", "planned", "dated after the as-of date"),
)
#: Inspection rows that cannot be used: tag, kind, date, result, why.
STRAY_INSPECTIONS: tuple[tuple[str, str, str | date, str, str], ...] = (
    ("V-303", "external", "spring 2014", "no findings", "no date can be read"),
    ("E-205", "internal", date(2019, 5, 14), "scrapped 2020", ""),
    ("C-203", "internal", date(2027, 3, 15), "planned for TA 2027", "dated after the as-of date"),
)

#: Last internal inspection where it is not the area's own turnaround, and last external likewise.
LAST_INTERNAL = {
    "R-102": date(2015, 5, 12),
    "C-203": date(2018, 6, 12),
    "C-102": date(2016, 3, 15),
    "E-204": date(2016, 4, 20),
    "R-301": date(2018, 5, 15),
    "E-301": date(2019, 5, 14),
    "R-303": date(2019, 5, 15),
    "S-503": date(2018, 5, 15),
    "E-307": date(2022, 3, 9),
}
LAST_EXTERNAL = {
    "E-302": date(2021, 8, 20),
    "E-106": date(2021, 3, 16),
    "C-103": date(2024, 3, 12),
    "V-405": date(2024, 3, 13),
    "R-103": date(2024, 3, 14),
}
#: On-stream inspections recorded as standing for an internal one.
ON_STREAM = {"S-503": date(2024, 6, 11)}

#: Relief devices that differ from the usual five years, tested in 2025 or 2026: last tested, interval, clean service.
RELIEF = {
    "V-306": (date(2020, 10, 6), 5, False),
    "V-101": (date(2025, 3, 11), 3, False),
    "V-303": (date(2025, 4, 8), 3, False),
    "V-404": (date(2022, 9, 13), 8, True),
    "V-401": (date(2022, 9, 14), 8, True),
}

#: Events: tag, component, day, event, new thickness.
EVENTS: tuple[tuple[str, str, date, str, float | None], ...] = (
    ("C-301", "Shell 2", date(2019, 4, 16), "replaced", 0.4375),
    ("D-208", "Shell 1", date(2013, 3, 5), "change of service", None),
    ("E-101", "Shell", date(2015, 3, 10), "rerated", None),
)


class Deferral(NamedTuple):
    """One recorded deferral."""

    tag: str
    kind: str
    due: date
    until: date
    reason: str
    approved_on: date


DEFERRALS = (
    Deferral("C-102", "internal", date(2026, 3, 15), date(2027, 4, 16), "Entry only in TA 2027; low loss in 2025",
             date(2026, 1, 20)),
    Deferral("E-204", "internal", date(2026, 4, 20), date(2027, 4, 16), "Bundle pull planned for TA 2027",
             date(2026, 5, 11)),
    Deferral("E-302", "external", date(2026, 8, 20), date(2027, 4, 16), "Scaffold shared with rectifier in TA 2027",
             date(2026, 7, 30)),
)  # fmt: skip

#: Set intervals: tag, kind, years, assessment, approved on. The second names no assessment, so it must not count.
SET_INTERVALS = (
    ("R-301", "internal", 12, "Risk assessment WP-RA-014 rev. 2", date(2023, 5, 10)),
    ("V-402", "internal", 15, "", date(2023, 5, 10)),
)


class CorrodedArea(NamedTuple):
    """A grid of readings over one corroded area: axial positions across, circumferential positions down."""

    tag: str
    component: str
    name: str
    on: date
    axial: tuple[float, ...]
    circumferential: tuple[float, ...]
    inches: tuple[tuple[float, ...], ...]


CORRODED_AREA = CorrodedArea(
    "V-402", "Shell 1", "A1", date(2026, 4, 17),
    (10, 12, 14, 16, 18, 20, 22),
    (40, 42, 44),
    (
        (0.412, 0.398, 0.381, 0.372, 0.380, 0.401, 0.415),
        (0.405, 0.379, 0.352, 0.331, 0.349, 0.383, 0.408),
        (0.414, 0.402, 0.386, 0.377, 0.384, 0.399, 0.416),
    ),
)  # fmt: skip
#: Pits of the same vessel: axial and circumferential position, depth, width.
PITS = ((30, 41, 0.070, 0.5), (31, 43, 0.055, 0.4), (33, 40, 0.085, 0.6))

#: Recommendations: tag, component, what, raised on, due, raised by the inspector of the area.
RECOMMENDATIONS = (
    ("R-303", "", "Renew the insulation cladding round the lower head; water gets in", date(2025, 11, 4),
     date(2027, 6, 30)),
)  # fmt: skip
