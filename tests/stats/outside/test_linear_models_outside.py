"""Straight lines, weighted or not, against R (lm, confint, anova, predict) on open data sets."""

from __future__ import annotations

import numpy as np
import pytest

from validate.stats.regression import lack_of_fit, line, lines, mandel_fitting_test, quadratic_against_line

FILE = "general/linear_models.toml"
WEIGHTS = {"1": None, "1/x": lambda x: 1 / x, "1/x^2": lambda x: 1 / x**2}
WEIGHTED = ("formaldehyde_1_over_x", "formaldehyde_1_over_x2", "dnase_low_1_over_x")
UNWEIGHTED = ("formaldehyde", "dnase", "dnase_low", "cars", "lactic")
ALL = (*UNWEIGHTED, *WEIGHTED, "formaldehyde_origin")


@pytest.fixture
def model(rows, reference):
    """x, y, weights (None when all are 1) and what R gives."""

    def read(name):
        wanted = reference(FILE)[name]
        table = [[float(cell) for cell in row.values()] for row in rows(f"general/{wanted['data']}")]
        x, y = np.array([row[:2] for row in table if row[0] < wanted["up_to"]]).T
        of = WEIGHTS[wanted["weights"]]
        return x, y, None if of is None else of(x), wanted

    return read


@pytest.fixture
def fit(model):
    def fitted(name, level=0.95):
        x, y, weights, wanted = model(name)
        return line(x, y, weights, wanted["through_origin"], level=level), wanted["line"]

    return fitted


@pytest.mark.parametrize("name", ALL)
def test_coefficients_and_standard_errors_agree_with_lm(name, fit, digits_agreed):
    found, wanted = fit(name)
    names = [part for part in ("slope", "se_slope", "intercept", "se_intercept") if part in wanted]
    assert len(names) == (2 if name == "formaldehyde_origin" else 4)
    assert min(digits_agreed(getattr(found, part), wanted[part]) for part in names) >= 11
    assert found.df == int(wanted["df"])
    assert digits_agreed(found.r_squared, wanted["r_squared"]) >= 11


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("level", (0.95, 0.90))
def test_limits_of_the_coefficients_agree_with_confint(name, level, fit, digits_agreed):
    found, wanted = fit(name, level)
    for part in ("slope", "intercept"):
        limits, key = getattr(found, f"{part}_limits"), f"{part}_{level * 100:.0f}"
        if f"{key}_low" in wanted:
            assert digits_agreed(limits.low, wanted[f"{key}_low"]) >= 11
            assert digits_agreed(limits.high, wanted[f"{key}_high"]) >= 11


@pytest.mark.parametrize("name", ALL)
def test_the_residual_standard_deviation_agrees_with_sigma_for_weights_of_mean_1(name, fit, model, digits_agreed):
    """R keeps the weights as passed; here they are brought to mean 1, which scales sigma by its root."""
    (found, wanted), (_, _, weights, _) = fit(name), model(name)
    scale = 1.0 if weights is None else float(np.sqrt(weights.mean()))
    assert digits_agreed(found.residual_sd * scale, wanted["residual_sd"]) >= 11


@pytest.mark.parametrize("name", ALL)
def test_fitted_values_and_residuals_add_up_to_the_results(name, fit, model):
    (found, _), (x, y, _, _) = fit(name), model(name)
    assert np.asarray(found.fitted) + np.asarray(found.residuals) == pytest.approx(y, rel=1e-13)
    assert np.asarray(found.fitted) == pytest.approx(found.intercept + found.slope * x, rel=1e-12)


@pytest.mark.parametrize("name", ALL)
def test_limits_of_the_line_agree_with_predict(name, fit, reference, digits_agreed):
    """The confidence interval of the mean signal, between and beyond the levels.

    At 0 a line through the origin has neither error nor interval; R was not asked there.
    """
    found, _ = fit(name)
    for x, centre, low, high, *_ in reference(FILE)[name]["predictions"]["fitted"]:
        limits = found.at(float(x))
        assert digits_agreed((limits.low + limits.high) / 2, centre) >= 10, x
        assert digits_agreed(limits.low, low) >= 10, x
        assert digits_agreed(limits.high, high) >= 10, x


@pytest.mark.parametrize("name", ALL)
def test_limits_of_a_future_signal_follow_from_the_sums_that_a_fit_carries(name, fit, reference, digits_agreed):
    """R's prediction interval, for an observation of weight 1 as passed: s²·(mean weight + leverage)."""
    found, _ = fit(name)
    for x, centre, mean_low, _, low, high in reference(FILE)[name]["predictions"]["fitted"]:
        t_times_s = (float(centre) - float(mean_low)) / np.sqrt(found.leverage(float(x)))
        half = t_times_s * np.sqrt(found.weight_mean + found.leverage(float(x)))
        assert digits_agreed(float(centre) - half, low) >= 9, x
        assert digits_agreed(float(centre) + half, high) >= 9, x


@pytest.mark.parametrize("name", (*UNWEIGHTED, *WEIGHTED))
def test_many_lines_in_one_call_agree_with_lm_line_by_line(name, model, digits_agreed):
    x, y, weights, wanted = model(name)
    found, wanted = lines(x, np.stack([y, 10 * y]), weights), wanted["line"]
    for part in ("slope", "intercept", "se_slope", "se_intercept"):
        assert digits_agreed(getattr(found, part)[0], wanted[part]) >= 10, part
        assert digits_agreed(getattr(found, part)[1] / 10, wanted[part]) >= 10, part
    assert digits_agreed(found.slope_low[0], wanted["slope_95_low"]) >= 10
    assert digits_agreed(found.intercept_high[0], wanted["intercept_95_high"]) >= 10
    assert digits_agreed(found.r_squared[0], wanted["r_squared"]) >= 10


@pytest.mark.parametrize("name", ("dnase", "dnase_low", "cars", "lactic", "dnase_low_1_over_x"))
def test_lack_of_fit_agrees_with_the_analysis_of_variance_against_the_level_means(name, model, digits_agreed):
    x, y, weights, wanted = model(name)
    found, wanted = lack_of_fit(x, y, weights), wanted["lack_of_fit"]
    assert (found.df_lack, found.df_pure) == (int(wanted["df_lof"]), int(wanted["df_pure_error"]))
    assert digits_agreed(found.f, wanted["F"]) >= 10
    assert digits_agreed(found.p_value, wanted["p"]) >= 8


@pytest.mark.parametrize("name", UNWEIGHTED)
def test_the_fitting_test_agrees_with_the_analysis_of_variance_against_a_quadratic(name, model, digits_agreed):
    """Mandel's F, ((N−2)s₁² − (N−3)s₂²)/s₂², is R's F of the square term."""
    x, y, _, wanted = model(name)
    found, wanted = mandel_fitting_test(x, y), wanted["quadratic"]
    assert found.df == int(wanted["df2"])
    assert digits_agreed(found.f, wanted["F"]) >= 9
    assert digits_agreed(found.p_value, wanted["p"]) >= 8


@pytest.mark.parametrize("name", (*UNWEIGHTED, *WEIGHTED))
def test_the_square_term_agrees_with_lm_weighted_or_not(name, model, digits_agreed):
    x, y, weights, wanted = model(name)
    found, wanted = quadratic_against_line(x, y, weights), wanted["quadratic"]
    assert found.df == int(wanted["df2"])
    assert digits_agreed(found.curvature, wanted["square"]) >= 9
    assert digits_agreed(found.f, wanted["F"]) >= 9
    assert digits_agreed(found.p_value, wanted["p"]) >= 8


@pytest.mark.parametrize("name", (*UNWEIGHTED, *WEIGHTED))
def test_the_quadratic_lies_from_the_line_as_far_as_the_coefficients_of_lm_say(name, model):
    """At every level: 100·(quadratic − line)/(slope·level), from R's two sets of coefficients."""
    x, y, weights, wanted = model(name)
    of = {k: float(v) for k, v in (wanted["line"] | wanted["quadratic"]).items()}
    found = quadratic_against_line(x, y, weights)
    assert [level for level, _ in found.at_levels] == sorted(set(x.tolist()))
    for level, percent in found.at_levels:
        curve = of["constant"] + of["linear"] * level + of["square"] * level**2
        straight = of["intercept"] + of["slope"] * level
        assert percent == pytest.approx(100 * (curve - straight) / (of["slope"] * level), rel=1e-7, abs=1e-9)
        assert abs(percent) <= abs(found.deviation_percent) * (1 + 1e-12)
