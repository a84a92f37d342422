"""Corrosion rates: API 510 section 7.1, and the statistics of a reading's scatter."""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit

API_510 = "API 510"
_STATISTICS = "ordinary least squares"

FORMULAS = (
    Formula(
        "years_between",
        "years",
        "days / y_d",
        "rule of this program",
        "rule of this program",
        "years between two dates",
        (Limit("days > 0", "the two readings are of one day"), Limit("y_d > 0", "a year has no length")),
    ),
    Formula(
        "long_term_rate",
        "LT",
        "(t_ini - t_act) / years",
        "7.1.1",
        API_510,
        "long-term corrosion rate",
        (Limit("years > 0", "the two readings are of one day"),),
    ),
    Formula(
        "short_term_rate",
        "ST",
        "(t_prev - t_act) / years",
        "7.1.1",
        API_510,
        "short-term corrosion rate",
        (Limit("years > 0", "the two readings are of one day"),),
    ),
    Formula("rate_greater", "C_sel", "max(LT, ST)", "7.1.1", API_510, "the greater of long-term and short-term rate"),
    Formula(
        "rate_with_stated",
        "C_sel",
        "max(LT, C_st)",
        "7.1.2",
        API_510,
        "the greater of the long-term rate and the rate stated for similar service, until two readings exist",
    ),
    Formula(
        "rate_governing",
        "C_r",
        "max(max(C_sel, 0), C_0)",
        "7.1.1; floor: common practice",
        API_510,
        "governing rate: negative rates count as zero, and never below the plant's floor",
    ),
    Formula(
        "noise_limit",
        "n_lim",
        "2 * sqrt(2) * s",
        "two standard deviations of a difference",
        _STATISTICS,
        "largest change between two readings that can be noise",
    ),
    Formula(
        "rate_deviation",
        "s_C",
        "sqrt(2) * s / years",
        "standard deviation of a difference",
        _STATISTICS,
        "standard deviation of a two-point rate",
        (Limit("years > 0", "the two readings are of one day"),),
    ),
    Formula(
        "fit_rate",
        "fit",
        "-(Sxy / Sxx) * y_d",
        "least squares",
        _STATISTICS,
        "least-squares corrosion rate",
        (Limit("Sxx > 0", "all readings are of one day"),),
    ),
    Formula(
        "fit_rate_error",
        "fit_se",
        "sqrt(max(0, (Syy - Sxy * Sxy / Sxx) / (n - 2)) / Sxx) * y_d",
        "least squares",
        _STATISTICS,
        "standard error of the least-squares rate",
        (Limit("Sxx > 0", "all readings are of one day"), Limit("n > 2", "fewer than three readings")),
    ),
    Formula(
        "fit_upper_bound",
        "fit_up",
        "fit + q95 * fit_se",
        "one-sided 95 %, Student's t",
        _STATISTICS,
        "one-sided 95 % bound of the least-squares rate",
    ),
    # ---- the worth of one reading -----------------------------------------------------------------------------------
    Formula(
        "reading_off",
        "t",
        "t_act + off * s",
        "one standard deviation of a reading",
        _STATISTICS,
        "last reading, had it been thicker or thinner by the scatter of one reading",
    ),
    Formula(
        "sum_with_reading_off",
        "Sxy_o",
        "Sxy + off * s * d_last",
        "least squares",
        _STATISTICS,
        "sum of days by thickness with the last reading off by the scatter of one reading",
    ),
    Formula(
        "squares_with_reading_off",
        "Syy_o",
        "Syy + 2 * off * s * p_last + off * s * off * s * (n - 1)",
        "least squares",
        _STATISTICS,
        "sum of squared thickness with the last reading off by the scatter of one reading",
    ),
    # ---- bands ------------------------------------------------------------------------------------------------------
    Formula(
        "rate_band_low",
        "C_low",
        "max(C_sel - k_s * s_C, 0)",
        "two standard deviations of the rate",
        _STATISTICS,
        "low end of the band of the rate",
    ),
    Formula(
        "rate_band_high",
        "C_high",
        "max(C_sel + k_s * s_C, 0)",
        "two standard deviations of the rate",
        _STATISTICS,
        "high end of the band of the rate",
    ),
)
