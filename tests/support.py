"""What several test modules share: programs from outside Python, and random inputs for the clauses.

`needs_office` and `needs_chromium` mark tests that start a program the machine may lack. Where the environment
variable CI is set nothing is skipped: the test runs and fails with the same sentence.
"""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pipeline.formulas import Formula
from pipeline.quantities import QUANTITIES

OFFICE_MISSING = "the program soffice is missing: install the Debian package libreoffice-calc"
CHROMIUM_MISSING = "the program chromium is missing: install the Debian package chromium"
CHROMIUM = Path("/usr/bin/chromium")

_ON_CI = bool(os.environ.get("CI"))

needs_office = pytest.mark.skipif(shutil.which("soffice") is None and not _ON_CI, reason=OFFICE_MISSING)
needs_chromium = pytest.mark.skipif(not CHROMIUM.exists() and not _ON_CI, reason=CHROMIUM_MISSING)


def office_program() -> str:
    """Return the path of LibreOffice; a failure with the sentence of what to install where it is missing."""
    found = shutil.which("soffice")
    if found is None:
        pytest.fail(OFFICE_MISSING)
    return found


def chromium_program() -> str:
    """Return the path of Chromium; a failure with the sentence of what to install where it is missing."""
    if not CHROMIUM.exists():
        pytest.fail(CHROMIUM_MISSING)
    return str(CHROMIUM)


# ---- LibreOffice ----------------------------------------------------------------------------------------------------

# By default LibreOffice trusts the values another program stored; 0 is "always recalculate".
_ALWAYS_RECALCULATE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="ODFRecalcMode" oor:op="fuse">
<value>0</value></prop></item>
</oor:items>
"""


@cache
def _office_profile() -> tempfile.TemporaryDirectory[str]:
    """Return a profile for all conversions of this process: LibreOffice fills a new one at its first start."""
    profile = tempfile.TemporaryDirectory(prefix="office-profile-", ignore_cleanup_errors=True)
    settings = Path(profile.name) / "user" / "registrymodifications.xcu"
    settings.parent.mkdir()
    settings.write_text(_ALWAYS_RECALCULATE, encoding="utf-8")
    return profile


def convert(workbook: Path, to: str, folder: Path) -> Path:
    """Recalculate a workbook in LibreOffice and return the file it writes in `folder`; `to` as in `convert_all`."""
    (written,) = convert_all([workbook], to, folder)
    return written


def convert_all(workbooks: Sequence[Path], to: str, folder: Path) -> list[Path]:
    """Recalculate workbooks in one start of LibreOffice, with a profile of its own; return the files it writes.

    They lie in `folder`. `to` is a file type, with filter options where needed (`xlsx`, `ods`, `csv:...`).
    """
    target = folder / "recalculated"
    command = [
        office_program(),
        f"-env:UserInstallation={Path(_office_profile().name).as_uri()}",
        "--headless",
        "--convert-to",
        to,
        "--outdir",
        str(target),
        *map(str, workbooks),
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=180 * len(workbooks), check=False)
    written = [target / f"{workbook.stem}.{to.split(':', 1)[0]}" for workbook in workbooks]
    missing = ", ".join(made.name for made in written if not made.exists())
    if done.returncode != 0 or missing:
        pytest.fail(f"LibreOffice did not convert, missing is {missing or 'nothing'}: {done.stdout} {done.stderr}")
    return written


def recalculated_cells(workbook: Path, folder: Path) -> list[list[str]]:
    """Recalculate the first sheet of a workbook and return its cells as text, errors such as #N/A included.

    Numbers come as their cell format shows them: give cells SHOW_ALL_DIGITS where the digits matter.
    """
    (cells,) = recalculated_cells_of([workbook], folder)
    return cells


def recalculated_cells_of(workbooks: Sequence[Path], folder: Path) -> list[list[list[str]]]:
    """Return the cells of several workbooks, each as `recalculated_cells` does, in one start of LibreOffice."""
    # Separator, quote, UTF-8, first line 1, formats by column, language, quote all text, "as shown".
    found = []
    for written in convert_all(workbooks, "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true", folder):
        with written.open(encoding="utf-8", newline="") as lines:
            found.append(list(csv.reader(lines)))
    return found


SHOW_ALL_DIGITS = "0.00000000000000E+00"


# ---- random inputs of the clauses -----------------------------------------------------------------------------------

#: Sensible values of each quantity, in the unit kept inside. A formula's limits are crossed from both sides.
RANGES: dict[str, tuple[float, float]] = {
    "P": (0.02, 40.0),
    "t_e_lo": (0.0, 30.0),
    "t_e_hi": (0.5, 40.0),
    "t_call": (0.5, 30.0),
    "over": (0.0, 20.0),
    "E_y": (120000.0, 210000.0),
    "S_y": (120.0, 500.0),
    "L_u": (100.0, 20000.0),
    "R_b": (100.0, 4000.0),
    "M_x": (0.5, 400.0),
    "C_h": (0.0005, 1.0),
    "F_he": (1.0, 3000.0),
    "F_ic": (1.0, 500.0),
    "F_S": (1.5, 2.1),
    "P_a": (0.01, 5.0),
    "t_lo": (0.01, 20.0),
    "t_hi": (20.0, 100.0),
    "L_e": (500.0, 4000.0),
    "L_eo": (500.0, 4000.0),
    "r_e": (30.0, 400.0),
    "C1": (0.2, 0.9),
    "C2": (0.9, 1.3),
    "c_b": (0.1, 0.9),
    "phi": (0.05, 2.0),
    "R_e": (300.0, 4000.0),
    "P_be": (0.05, 20.0),
    "P_by": (0.05, 5.0),
    "P_th": (0.05, 5.0),
    "P_pl": (0.05, 5.0),
    "t_pl": (0.5, 20.0),
    "t_bu": (0.5, 20.0),
    "tol": (1e-12, 1e-6),
    "k_s": (1.0, 3.0),
    "C_low": (0.0, 2.0),
    "C_high": (0.0, 3.0),
    "off": (-1.0, 1.0),
    "Sxy_o": (-1e6, 1e6),
    "Syy_o": (0.0, 1e4),
    "cap_op": (5.0, 40.0),
    "d_last": (0.0, 200000.0),
    "p_last": (-200.0, 200.0),
    "f_op": (0.05, 1.2),
    "P_top": (0.02, 40.0),
    "P_head": (0.0, 0.5),
    "P_hold": (0.02, 40.0),
    "P_hold_L": (0.02, 40.0),
    "P_hold_C": (0.02, 80.0),
    "MAWP": (0.02, 40.0),
    "g_w": (9.7e-6, 9.9e-6),
    "SG": (0.4, 1.9),
    "H": (0.0, 60000.0),
    "S": (40.0, 260.0),
    "E": (0.45, 1.0),
    "R": (20.0, 3000.0),
    "Ro": (25.0, 3100.0),
    "D": (40.0, 6000.0),
    "Do": (50.0, 6200.0),
    "R_n": (20.0, 3000.0),
    "D_n": (40.0, 6000.0),
    "L_n": (40.0, 6000.0),
    "L": (40.0, 6000.0),
    "Lo": (50.0, 6200.0),
    "r": (5.0, 900.0),
    "h": (10.0, 3000.0),
    "K": (0.5, 1.83),
    "K1": (0.5, 1.36),
    "M": (1.0, 1.77),
    "alpha": (0.0, 45.0),
    "C": (0.1, 0.5),
    "d": (40.0, 3000.0),
    "x": (1.0, 3.0),
    "x_a": (1.0, 2.8),
    "x_b": (1.2, 3.0),
    "k_a": (0.5, 1.27),
    "k_b": (0.57, 1.36),
    "t": (0.5, 160.0),
    "t_nom": (2.0, 160.0),
    "CA": (0.0, 8.0),
    "t_p": (0.5, 120.0),
    "t_L": (0.5, 120.0),
    "t_C": (0.5, 120.0),
    "t_min": (1.5, 2.6),
    "t_str": (0.0, 8.0),
    "t_ext": (0.0, 40.0),
    "t_sh": (1.0, 60.0),
    "t_std": (1.7, 9.6),
    "u": (0.0, 0.2),
    "t_neck": (1.5, 10.0),
    "t_req": (1.0, 80.0),
    "t_req_w": (1.0, 80.0),
    "t_act": (1.0, 120.0),
    "t_ini": (1.0, 120.0),
    "t_prev": (1.0, 120.0),
    "t_next": (0.0, 120.0),
    "t_rch": (1.0, 120.0),
    "w": (25.4, 160.0),
    "w_min": (25.0, 26.0),
    "s": (0.0, 0.5),
    "n_lim": (0.0, 1.5),
    "m": (-1.0, 5.0),
    "days": (-400.0, 15000.0),
    "years": (-1.0, 40.0),
    "y_d": (365.0, 366.0),
    "LT": (-0.5, 3.0),
    "ST": (-0.5, 3.0),
    "C_sel": (-0.5, 3.0),
    "C_st": (0.0, 3.0),
    "C_0": (0.0, 0.1),
    "C_r": (0.0, 3.0),
    "s_C": (0.0, 0.5),
    "fit": (-0.5, 3.0),
    "fit_se": (0.0, 0.5),
    "fit_up": (-0.5, 4.0),
    "q95": (1.6, 6.4),
    "n": (1.0, 60.0),
    "Sxx": (-1.0, 1e9),
    "Sxy": (-1e6, 1e6),
    "Syy": (0.0, 1e4),
    "RL": (-10.0, 60.0),
    "interval": (0.0, 10.0),
    "cap": (1.0, 10.0),
    "short": (1.0, 2.0),
    "guard": (0.0, 1e-5),
    "n_days": (0.0, 3653.0),
    "L_a": (20.0, 1000.0),
    "D_as": (1400.0, 1600.0),
    "L_as": (400.0, 600.0),
    "L_al": (900.0, 1100.0),
    "sum_t": (1.0, 2000.0),
    "n_a": (1.0, 60.0),
    "t_mm": (0.5, 120.0),
    "t_am": (0.5, 120.0),
    "C_s": (100.0, 20000.0),
    "c_1": (-5000.0, 20000.0),
    "c_2": (-5000.0, 20000.0),
    "u_s": (0.0, 20000.0),
    "t_h": (0.5, 40.0),
    "C_cmp": (0.0, 3.0),
    "C_ar": (-0.5, 3.0),
    "p_d": (0.1, 20.0),
    "p_w": (1.0, 120.0),
    "p_w2": (1.0, 120.0),
    "t_w": (1.0, 80.0),
    "t_rp": (-5.0, 80.0),
    "a_p": (-5.0, 20.0),
    "b_p": (0.0, 20.0),
    "A_p": (1.0, 10000.0),
    "A_sum": (0.0, 20000.0),
    "A_lim": (4400.0, 4600.0),
    "sh_A": (0.0, 5.0),
    "d_c": (200.0, 204.0),
    "rho": (100.0, 170.0),
    "rho_2": (100.0, 170.0),
    "d_x": (-300.0, 300.0),
    "d_s": (-300.0, 300.0),
    "d_p": (0.1, 400.0),
    "a_i": (-170.0, 170.0),
    "h_i": (0.0, 170.0),
    "q_x": (-170.0, 170.0),
    "q_s": (-170.0, 170.0),
    "e_1": (-1.0, 1.0),
    "e_2": (-1.0, 1.0),
    "k_t": (-1.1, 1.1),
    "n_x": (-1.0, 1.0),
    "n_s": (-1.0, 1.0),
    "o_l": (-300.0, 300.0),
    "l_l": (-300.0, 300.0),
    "l_n": (-300.0, 300.0),
    "l_f": (-300.0, 300.0),
    "FCA": (0.0, 8.0),
    "dev2": (0.0, 100.0),
    "dev_sum": (0.0, 500.0),
    "COV": (0.0, 1.0),
    "t_af": (-5.0, 120.0),
    "t_mf": (-5.0, 120.0),
    "f_nom": (0.1, 0.3),
    "t_abs": (1.0, 3.0),
    "t_ll": (1.0, 40.0),
    "t_rd": (1.0, 120.0),
    "t_sc": (0.5, 120.0),
    "R_t": (0.0, 1.05),
    "x_1": (-500.0, 3000.0),
    "x_2": (-500.0, 6000.0),
    "s_a": (0.0, 3000.0),
    "lam": (0.0, 22.0),
    "M_f": (0.9, 12.0),
    "RSF": (0.1, 1.0),
    "RSF_a": (0.8, 0.95),
    "MAWP_r": (0.0, 40.0),
}

#: Share of blanks, zeros and negatives among the random inputs: what a register holds by mistake.
_BLANK, _ZERO, _NEGATIVE = 0.01, 0.01, 0.01


def random_columns(formula: Formula, count: int, seed: int) -> dict[str, np.ndarray]:
    """Return `count` random values of each input by symbol; NaN stands for a blank.

    Half of the values are drawn evenly over the range, half evenly over its logarithm, so that small vessels and
    low pressures occur as often as large ones.
    """
    columns = {}
    for place, quantity in enumerate(formula.inputs):
        generator = np.random.default_rng([seed, place, count])
        low, high = RANGES[quantity.name]
        even = generator.uniform(low, high, count)
        if low > 0:
            spread = np.exp(generator.uniform(np.log(low), np.log(high), count))
            even = np.where(generator.random(count) < 0.5, spread, even)
        chance = generator.random(count)
        even = np.where(chance < _BLANK, np.nan, even)
        even = np.where((chance >= _BLANK) & (chance < _BLANK + _ZERO), 0.0, even)
        negative = (chance >= _BLANK + _ZERO) & (chance < _BLANK + _ZERO + _NEGATIVE)
        columns[quantity.name] = np.where(negative, -even, even)
    return columns


def random_rows(formula: Formula, count: int, seed: int) -> Iterator[dict[str, float | None]]:
    """Yield the rows of `random_columns`, with None for a blank."""
    columns = random_columns(formula, count, seed)
    names = list(columns)
    for values in zip(*(column.tolist() for column in columns.values()), strict=True):
        yield {name: (value if value == value else None) for name, value in zip(names, values, strict=True)}


if set(RANGES) != set(QUANTITIES):
    raise AssertionError(f"quantities without a range of their own: {sorted(set(RANGES) ^ set(QUANTITIES))}")
