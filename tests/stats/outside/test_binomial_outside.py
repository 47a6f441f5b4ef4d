"""Proportions and probability of detection against R and 40-digit arithmetic on open data sets."""

from __future__ import annotations

import math

import pytest
from scipy import optimize, special

from validate.stats.detection import probability_of_detection, proportion

FILE = "general/binomial_response.csv"
DATA = {
    "beetle": ("logdose", "n", "killed", math.log(10)),
    "menarche": ("Age", "Total", "Menarche", 1.0),
    "budworm_males": ("ldose", "n", "dead", math.log(2)),
}
"""Columns of covariate, trials and responses, and ln level per unit of the covariate."""

LINKS = ("logit", "probit", "cloglog")
CASES = [(name, link) for name in DATA for link in LINKS]


@pytest.fixture
def curve(rows):
    """The fitted curve, ln level per unit of the covariate, and the 40-digit figures by quantity."""

    def fitted(name, link):
        covariate, trials, responses, scale = DATA[name]
        table = rows(f"general/{name}.csv")
        level = [math.exp(scale * float(row[covariate])) for row in table]
        n, hits = ([int(row[column]) for row in table] for column in (trials, responses))
        wanted = {row["quantity"]: row for row in rows(FILE) if (row["data"], row["link"]) == (name, link)}
        return probability_of_detection(level, n, hits, model=link), scale, wanted

    return fitted


@pytest.mark.parametrize(("name", "link"), CASES)
def test_coefficients_agree_with_maximum_likelihood_in_40_digits(name, link, curve, digits_agreed):
    found, scale, wanted = curve(name, link)
    assert digits_agreed(found.intercept, wanted["intercept"]["value"]) >= 8
    assert digits_agreed(found.slope * scale, wanted["slope"]["value"]) >= 8


@pytest.mark.parametrize(("name", "link"), CASES)
def test_standard_errors_of_the_coefficients_agree(name, link, curve, digits_agreed):
    found, scale, wanted = curve(name, link)
    assert digits_agreed(found.se_intercept, wanted["intercept"]["se"]) >= 7
    assert digits_agreed(found.se_slope * scale, wanted["slope"]["se"]) >= 7


@pytest.mark.parametrize(("name", "link"), CASES)
def test_levels_detected_with_50_and_95_percent_agree(name, link, curve, digits_agreed):
    found, scale, wanted = curve(name, link)
    for level, quantity in ((found.level_50, "dose_0.50"), (found.level_95, "dose_0.95")):
        assert digits_agreed(math.log(level.value) / scale, wanted[quantity]["value"]) >= 8


DEVIANCE = {
    ("beetle", "logit"): "11.2322310974193",
    ("beetle", "probit"): "10.1197581130015",
    ("beetle", "cloglog"): "3.44643873302452",
    ("menarche", "logit"): "26.7034516357649",
    ("menarche", "probit"): "22.8874325146765",
    ("menarche", "cloglog"): "118.820772308195",
    ("budworm_males", "logit"): "1.88097008142142",
    ("budworm_males", "probit"): "1.29681496155329",
    ("budworm_males", "cloglog"): "1.06355697616041",
}
"""R: deviance(glm(cbind(hits, n - hits) ~ covariate, binomial(link)))."""


@pytest.mark.parametrize(("name", "link"), CASES)
def test_the_deviance_agrees_with_glm(name, link, curve, digits_agreed):
    found, _, _ = curve(name, link)
    assert digits_agreed(found.deviance, DEVIANCE[name, link]) >= 9


INVERSE = {"logit": special.expit, "probit": special.ndtr, "cloglog": lambda eta: -special.expm1(-math.exp(eta))}
LINEAR = {"logit": special.logit, "probit": special.ndtri, "cloglog": lambda p: math.log(-math.log1p(-p))}


@pytest.mark.parametrize("link", LINKS)
@pytest.mark.parametrize("probability", (0.50, 0.95))
def test_profile_limits_lie_where_the_likelihood_has_fallen_by_half_a_chi_square(link, probability, curve, rows):
    """Beetles; the best likelihood with p(limit) held fixed, found here by a general minimiser."""
    found, scale, _ = curve("beetle", link)
    data = [(scale * float(row["logdose"]), int(row["n"]), int(row["killed"])) for row in rows("general/beetle.csv")]

    def cost(slope, theta):
        """Minus the log likelihood without the binomial coefficients."""
        p = [INVERSE[link](LINEAR[link](probability) + slope * (x - theta)) for x, _, _ in data]
        return -sum(special.xlogy(k, q) + special.xlog1py(n - k, -q) for q, (_, n, k) in zip(p, data, strict=True))

    level = found.level_50 if probability == 0.5 else found.level_95
    best = cost(found.slope, math.log(level.value))
    for limit in (level.low, level.high):
        around = (0.5 * found.slope, 1.5 * found.slope)
        held = optimize.minimize_scalar(cost, args=(math.log(limit),), bounds=around, method="bounded").fun
        assert 2 * (held - best) == pytest.approx(3.841459, abs=1e-4)


def test_with_slope_1_the_level_of_95_percent_is_four_point_three_times_that_of_50():
    """ln 20 / ln 2 = 4.3219, whatever the data (C. Wilrich, P.-T. Wilrich 2009, from memory)."""
    found = probability_of_detection([1, 2, 4, 8], [20] * 4, [6, 11, 17, 20], model="cloglog-slope-1")
    assert found.level_95.value / found.level_50.value == pytest.approx(4.3219, abs=0.00005)


def test_proportions_have_the_limits_of_binom_test(rows, digits_agreed):
    """Clopper-Pearson: 60 rows, 3 to 400 trials, levels 0.90, 0.95 and 0.99, none and all detected included."""
    table = rows("general/clopper_pearson.csv")
    assert len(table) == 60
    for row in table:
        found = proportion(int(row["x"]), int(row["n"]), level=float(row["level"]))
        assert digits_agreed(found.low, row["low"]) >= 9, row
        assert digits_agreed(found.high, row["high"]) >= 9, row
