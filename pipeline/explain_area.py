"""Why: the chain of reasons behind a corroded area or the pits of one, each clause recomputed from the stored row.

The average and the pits are judged by API 510 section 7.4. The Level 1 screening that may follow sorts what goes to the
engineer; it never makes an area better than its average and its pits.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

import duckdb

from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.errors import Problem
from pipeline.explain import Link, Origin, Row, _as_typed, _ChainWriter, _Explainer, _plain
from pipeline.formulas import FORMULAS
from pipeline.units import noun, show

SCREENING = (
    "The Level 1 screening sorts what goes to the engineer first; it accepts nothing. It says nothing of the distance "
    "to nozzles, supports and other discontinuities, of the extent round the vessel, of cracks, or of loads other than "
    "pressure; its numbers are from memory and to be compared with a licensed copy."
)


@dataclass
class AreaExplanation:
    """Everything said of one area: its surveys and pits as results have them, the links of the ones that count."""

    asset: str
    component: str
    area: str
    as_of: date
    units: str
    sentence: str
    is_below_required: bool
    missing: str | None
    surveys: list[Row]
    pit_surveys: list[Row]
    links: list[Link] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    disagreements: list[str] = field(default_factory=list)
    cautions: tuple[str, ...] = (CAUTION, NOT_CONSIDERED)

    @property
    def faults(self) -> list[str]:
        """What did not agree when it was recomputed."""
        return [link.fault for link in self.links if link.fault] + self.disagreements

    def as_json(self) -> dict[str, Any]:
        """Return plain data for JSON; dates as ISO text."""
        plain: dict[str, Any] = _plain(asdict(self))
        plain["faults"] = self.faults
        return plain

    def as_text(self) -> list[str]:
        """Return the chain as lines of text: what is said, each clause with its numbers and origins, remarks."""
        lines = [self.sentence]
        for row in (*self.surveys, *self.pit_surveys):
            verdict = row.get("average_verdict") or row.get("pit_verdict") or "not judged"
            instead = f" (does not count: {row['superseded_by']})" if row["superseded_by"] else ""
            lines.append(f"survey of {row['read_on'] or 'unknown date'}: {verdict}{instead}")
            if row["screening_verdict"]:
                lines.append(f"  {row['screening_verdict']}")
        for number, link in enumerate(self.links, start=1):
            lines.append(f"{number}. {link.title} [{link.source}]")
            lines.append(f"   {link.plain} = {link.plain_values} = {link.shown}")
            lines.extend(f"   {entry.symbol} = {entry.shown}: {entry.origin}" for entry in link.inputs)
        return [*lines, *self.remarks, *self.faults, *self.cautions]


def explain_area(
    connection: duckdb.DuckDBPyConnection, asset: str, component: str, area: str, system: str | None = None
) -> AreaExplanation:
    """Explain an area in a unit system (default: the plant's). Raises Problem where the results have no such area."""
    explainer = _Explainer(connection, system)
    key = [asset, component, area]
    where = "WHERE asset = ? AND component = ? AND area = ?"
    verdict = explainer.rows(f"SELECT * FROM step.area_verdict {where}", key)
    surveys = explainer.rows(f"SELECT * FROM result.corroded_area {where} ORDER BY read_on DESC NULLS FIRST", key)
    pits = explainer.rows(f"SELECT * FROM result.pit_area {where} ORDER BY read_on DESC NULLS FIRST", key)
    if not surveys and not pits:
        raise Problem(f"{asset} {component} {area}: there is no such area in the results")
    said = verdict[0] if verdict else {}
    told = AreaExplanation(
        asset,
        component,
        area,
        explainer.as_of,
        explainer.system,
        said.get("sentence") or f"{component}, area {area}: no survey of it counts any more",
        bool(said.get("is_below_required")),
        said.get("missing"),
        surveys,
        pits,
    )
    writer = _writer(explainer, asset, component)
    for row in surveys:
        if not row["superseded_by"]:
            writer.average(row)
    for row in pits:
        if not row["superseded_by"]:
            writer.pits(row)
    for row in surveys:
        if not row["superseded_by"] and row["is_asked"]:
            writer.screening(row)
    if said.get("due_on"):
        writer.due(said)
    told.links, told.remarks, told.disagreements = writer.links, writer.remarks, writer.disagreements
    if told.is_below_required:
        told.cautions = (BELOW_REQUIRED, *told.cautions)
    if any(row["screening_verdict"] for row in (*surveys, *pits)):
        told.cautions = (SCREENING, *told.cautions)
    return told


def _writer(explainer: _Explainer, asset: str, component: str) -> _AreaWriter:
    """Return a writer that has written the required thickness already, where the component has one."""
    key = [asset, component]
    shape = explainer.rows("SELECT * FROM step.shape WHERE asset = ? AND component = ?", key)
    part = explainer.rows("SELECT * FROM step.component WHERE asset = ? AND component = ?", key)
    place: Row = {"asset": asset, "component": component, "zone": "general", "region_counted": "weld"}
    cells = explainer.register_cells(asset, component)
    writer = _AreaWriter(explainer, place, part[0] if part else {}, shape[0] if shape else {}, cells, [])
    if not part:
        writer.remarks.append(f"{component} stands on no component sheet: no thickness can be required of it.")
        return writer
    required = explainer.required(place, "weld", explainer.policy["radius_basis"])
    writer.pressure()
    if required:
        writer.shape_links(required)
        writer.thickness(required)
        writer.remarks.append(
            "How far the area lies from a weld is not known: what the weld region requires counts for it."
        )
    return writer


class _AreaWriter(_ChainWriter):
    """Writes the links of an area after those of the required thickness."""

    disagreements: list[str]

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self.disagreements = []

    # ---- average -----------------------------------------------------------------------------------------------------

    def average(self, row: Row) -> None:
        """Write the averaging length, the lowest average, its margin, rate and life."""
        policy = self.explainer.policy
        self.from_basis("L_as", "averaging_short_mm")
        self.from_basis("D_as", "averaging_diameter_mm")
        self.from_basis("L_al", "averaging_long_mm")
        self.link("averaging_length", {**policy, **row}, row["averaging_length_mm"])
        self.origins["t_mm"] = Origin(
            "lowest of the readings averaged",
            row["window_file"],
            row["window_sheet"] or "",
            row["window_cell"],
            _as_typed(row["window_text"], row["window_unit"]),
        )
        single = row["direction"] == "single reading"
        line = "the reading itself" if single else f"readings from {self._at(row, 'from')} to {self._at(row, 'to')}"
        self.origins["sum_t"] = Origin(f"sum of {line}")
        self.origins["n_a"] = Origin(f"number of {line}" if not single else "one reading")
        self.link("average_thickness", row, row["t_act_mm"])
        self._check_average(row)
        if row["not_averaged_because"]:
            plain = show(row["survey_average_mm"], "thickness", self.system)
            self.remarks.append(
                f"No average counts: {row['not_averaged_because']}. The plain average of all readings is {plain}."
            )
        else:
            self.remarks.append(
                f"Of every averaging length along the axis and the circumference that lies within the readings this "
                f"one ({row['direction']}) has the lowest average."
            )
        self.origins["t_act"] = Origin("lowest average of the area")
        self.link("margin", row, row["margin"])
        self.link("half_required", row, row["half_required_mm"])
        self._rate(row)
        if not self.link("remaining_life", row, row["remaining_life_years"]):
            if row["missing"] or row["life_missing"]:
                self.remarks.append(f"The area has no life; missing: {row['missing'] or row['life_missing']}.")
            elif row["is_below_required"]:
                self.remarks.append("The area is below the required thickness: no life is left, whatever the rate.")
            elif row["no_measurable_loss"]:
                self.remarks.append("No measurable loss: the life of the area has no end.")

    def _at(self, row: Row, end: str) -> str:
        return show(row[f"window_{end}_mm"], "length", self.system)

    def _check_average(self, row: Row) -> None:
        """Hold the stored sum of the survey against its readings, and the lowest average against the lowest reading."""
        readings = self.explainer.rows(
            "SELECT thickness_mm FROM step.area_reading WHERE survey_no = ? ORDER BY reading_no", [row["survey_no"]]
        )
        total = math.fsum(reading["thickness_mm"] for reading in readings)
        if len(readings) != row["survey_reading_count"] or not math.isclose(
            total, row["survey_thickness_sum_mm"], rel_tol=1e-9
        ):
            self.disagreements.append(
                f"the sum of the {len(readings)} readings is {total!r}, stored {row['survey_thickness_sum_mm']!r}; "
                "build anew"
            )
        if row["t_act_mm"] < row["survey_lowest_mm"]:
            self.disagreements.append("the stored average is below the lowest reading; build anew")

    def _rate(self, row: Row) -> None:
        policy = self.explainer.policy
        self.origins["C_cmp"] = Origin(f"highest governing rate of the component: {row['component_rate_from']}")
        if row["own_rate_mm_per_year"] is None:
            self.origins["C_r"] = Origin(f"highest governing rate of the component: {row['component_rate_from']}")
            return
        self.from_basis("y_d", "days_per_year")
        self.origins["days"] = Origin(f"from {row['before_on']} to {row['read_on']}")
        days = {**policy, "days_between": row["days_before"]}
        years = FORMULAS["years_between"].evaluate({"days": row["days_before"], "y_d": policy["days_per_year"]})
        self.link("years_between", days, years)
        self.origins["t_prev"] = Origin(f"lowest average of the area on {row['before_on']}")
        values = {**row, "t_previous_mm": row["t_before_mm"], "years_between": years}
        self.link("short_term_rate", values, row["own_rate_mm_per_year"])
        self.origins["C_ar"] = Origin("rate of the area between its last two surveys")
        if row["component_rate_mm_per_year"] is None:
            self.origins["C_sel"] = self.origins["C_ar"]
            self.from_basis("C_0", "rate_floor_mm_per_year")
            values = {**policy, "rate_selected_mm_per_year": row["own_rate_mm_per_year"]}
            self.link("rate_governing", values, row["rate_mm_per_year"])
        else:
            self.link("area_rate", row, row["rate_mm_per_year"])

    def due(self, verdict: Row) -> None:
        """Write by when the area is to be measured again: the rule of a place, from the survey that asks first."""
        since = f"survey of {verdict['surveyed_on']}"
        if verdict["life_from_survey_years"] is not None:
            self.origins["RL"] = Origin(f"remaining life by the {since}")
            self.interval({**verdict, "remaining_life_years": verdict["life_from_survey_years"]})
        said = self.whole_days(verdict["interval_years"], verdict["surveyed_on"], verdict["due_on"])
        self.remarks.append(f"{said}; no inspection moves it, only a new survey of the area does.")

    # ---- pits --------------------------------------------------------------------------------------------------------

    def pits(self, row: Row) -> None:
        """Write the deepest pit against the wall around it, the fullest circle and the fullest line."""
        policy = self.explainer.policy
        values = {**policy, **row}
        if row["wall_sum_mm"] is not None:
            self.origins["sum_t"] = Origin("sum of the area's readings")
            self.origins["n_a"] = Origin("number of the area's readings")
            self.origins["t_mm"] = Origin("lowest of the area's readings")
            wall = {
                "thickness_sum_mm": row["wall_sum_mm"],
                "area_reading_count": row["wall_reading_count"],
                "lowest_thickness_mm": row["wall_lowest_mm"],
            }
            self.link("average_thickness", wall, row["surrounding_thickness_mm"])
        self.origins["t_w"] = Origin(row["surrounding_from"] or "not known")
        self.origins["p_d"] = Origin(
            "deepest pit",
            row["deepest_file"] or "",
            row["deepest_sheet"] or "",
            row["deepest_cell"] or "",
            _as_typed(row["deepest_text"], row["deepest_unit"]),
        )
        self.link("half_required", values, row["half_required_mm"])
        self.link("pit_allowance", values, row["pit_allowance_mm"])
        self.link("pit_remaining", values, row["pit_remaining_mm"])
        self.link("pit_below_required", values, row["pit_below_required_mm"])
        self.origins["A_sum"] = Origin(f"pits in {row['circle_cells'] or 'none'}")
        self.from_basis("A_lim", "pit_area_limit_mm2")
        self.link("pit_area_share", values, row["pit_area_share"])
        self._check_sums(row)
        circle = show(policy["pit_circle_mm"], "length", self.system)
        limit = show(policy["pit_width_limit_mm"], "length", self.system)
        width = show(row["line_width_mm"], "length", self.system)
        if row["pit_allowance_mm"] is None:
            counted = f"Of {noun(row['pits'], 'pit')} it is not known how many are deeper than the allowance."
        else:
            counted = (
                f"Of {noun(row['pits'], 'pit')} {row['counted_pits']} {'is' if row['counted_pits'] == 1 else 'are'} "
                f"deeper than the allowance; the fullest circle of {circle} has {row['circle_pits']} of them."
            )
        self.remarks.append(
            f"{counted} The fullest line has {noun(row['line_pits'], 'pit')}, {width} wide together "
            f"({row['line_cells'] or 'none'}), against {limit}. A pit counts whole where any part of it is touched."
        )
        if row["together_because"]:
            self.remarks.append(
                f"All pits are taken as in one circle and on one line, the safe side: {row['together_because']}."
            )
        if row["pit_missing"]:
            self.remarks.append(f"Whether the pits may be ignored is not known; missing: {row['pit_missing']}.")

    def _check_sums(self, row: Row) -> None:
        """Hold the stored area and width against the pits they are the sums of."""
        found = self.explainer.rows(
            "SELECT pit_no, pit_width_mm FROM step.area_pit WHERE pit_survey_no = ?", [row["pit_survey_no"]]
        )
        widths = {pit["pit_no"]: pit["pit_width_mm"] for pit in found}
        pit_area = FORMULAS["pit_area"]
        areas = [pit_area.evaluate({"p_w": widths[number]}) or 0.0 for number in row["circle_members"] or ()]
        lines = [widths[number] for number in row["line_members"] or ()]
        for words, parts, stored in (
            ("area of the pits in the circle", areas, row["pit_area_sum_mm2"]),
            ("width of the pits on the line", lines, row["line_width_mm"]),
        ):
            if stored is not None and not math.isclose(math.fsum(parts), stored, rel_tol=1e-9, abs_tol=1e-9):
                self.disagreements.append(
                    f"{words}: recomputed {math.fsum(parts)!r}, stored {stored!r}; do not use this number, build anew"
                )

    # ---- screening ---------------------------------------------------------------------------------------------------

    def screening(self, row: Row) -> None:
        """Write the links of the Level 1 screening, as far as its inputs are known."""
        policy = self.explainer.policy
        days = row["days_to_next"]
        years: float | None = 0.0
        if days:
            self.from_basis("y_d", "days_per_year")
            self.origins["days"] = Origin(f"from {row['read_on']} to {row['next_inspection_on']}")
            years = FORMULAS["years_between"].evaluate({"days": days, "y_d": policy["days_per_year"]})
            self.link("years_between", {**policy, "days_between": days}, years)
        elif days is None:
            years = None
        self.origins["years"] = Origin(f"to the next inspection, {row['next_inspection_on']}")
        values: Row = {
            **policy,
            **row,
            "years_between": years,
            "lowest_thickness_mm": row["screened_lowest_mm"],
            "area_reading_count": row["survey_reading_count"],
            "average_thickness_mm": row["survey_average_mm"],
        }
        self.link("future_loss", values, row["future_loss_mm"])
        self.origins["t_mm"] = Origin(
            row["lowest_from"] or "not known",
            row["lowest_file"] if row["lowest_from"] == "lowest reading" else "",
            row["lowest_sheet"] or "",
            row["lowest_cell"],
            _as_typed(row["lowest_text"], row["lowest_unit"]),
        )
        self.link("lowest_after_loss", values, row["lowest_after_loss_mm"])
        if row["screened_by"] == "thickness profile":
            self._local(row, values)
        else:
            self._general(row, values)
        if row["screening_verdict"]:
            self.remarks.append(f"{row['screening_verdict'][0].upper()}{row['screening_verdict'][1:]}.")

    def _general(self, row: Row, values: Row) -> None:
        self.origins["t_am"] = Origin("plain average of all readings of the survey")
        self.origins["n_a"] = Origin("readings of the survey")
        self.origins["dev_sum"] = Origin("readings of the survey")
        self.link("coefficient_of_variation", values, row["coefficient_of_variation"])
        self.link("average_after_loss", values, row["average_after_loss_mm"])
        self.from_basis("f_nom", "least_share_of_nominal")
        self.from_basis("t_abs", "least_remaining_mm")
        self.link("least_local_thickness", values, row["least_local_mm"])

    def _local(self, row: Row, values: Row) -> None:
        self.origins["t_rd"] = Origin(row["wall_away_from"] or "not known")
        self.link("screening_thickness", values, row["screening_thickness_mm"])
        self.link("thickness_ratio", values, row["thickness_ratio"])
        self.origins["x_1"] = self.origins["x_2"] = Origin("outermost readings and pits of the area")
        self.link("area_extent", values, row["area_extent_mm"])
        self.link("length_parameter", values, row["length_parameter"])
        self.link(row["folias_formula"], values, row["folias_factor"])
        self.link("strength_factor", values, row["strength_factor"])
        self.from_basis("RSF_a", "strength_factor_allowed")
        if row["reduced_mawp_mpa"] is not None:
            self.link("reduced_mawp", values, row["reduced_mawp_mpa"])
