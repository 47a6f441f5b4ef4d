"""Medians, t and chi-square intervals and t tests against R on open data sets."""

from __future__ import annotations

import pytest

from validate.stats.descriptive import summary
from validate.stats.precision import against_claim
from validate.stats.trueness import bias_test

FILE = "general/intervals.toml"


@pytest.fixture
def pair(rows):
    """The two columns that R calls x and y."""

    def read(name):
        table = rows(f"general/{name.lower()}.csv")
        if name == "shoes":
            return [float(r["A"]) for r in table], [float(r["B"]) for r in table]
        if name == "Formaldehyde":
            return [float(r["optden"]) for r in table], [0.88 * float(r["carb"]) for r in table]
        return tuple([float(r["extra"]) for r in table if r["group"] == g] for g in ("1", "2"))

    return read


@pytest.fixture
def sample(rows):
    return lambda name: [float(r["x"]) for r in rows(f"general/{name}.csv")]


def test_the_median_of_an_even_number_of_results_is_the_middle_of_two(sample):
    """chem, 24 results: R quantile(x, .5) is 3.385 by definitions 2 and 5 to 9."""
    found = summary(sample("chem"))
    assert found.median == pytest.approx(3.385, abs=1e-15)
    assert (found.minimum, found.maximum) == (2.2, 28.95)


@pytest.mark.parametrize("name", ("chem", "abbey", "galaxies"))
def test_the_interval_of_a_mean_agrees_with_t_test(name, sample, reference, digits_agreed):
    wanted, found = reference(FILE)[name]["t_ci_95"], summary(sample(name))
    assert digits_agreed(found.u, wanted["se"]) >= 12
    assert digits_agreed(found.low, wanted["lower"]) >= 12
    assert digits_agreed(found.high, wanted["upper"]) >= 12


@pytest.mark.parametrize("name", ("chem", "abbey", "galaxies"))
def test_the_interval_of_a_standard_deviation_agrees_with_qchisq(name, sample, reference, digits_agreed):
    wanted, found = reference(FILE)[name]["sd_ci_95_chisq"], summary(sample(name))
    claim = against_claim(found.sd, found.n - 1, 1.0)
    assert digits_agreed(claim.low, wanted["v1"]) >= 12
    assert digits_agreed(claim.high, wanted["v2"]) >= 12


@pytest.mark.parametrize("name", ("shoes", "sleep", "Formaldehyde"))
@pytest.mark.parametrize(("level", "key"), ((0.95, "paired_t"), (0.90, "paired_t_90")))
def test_a_paired_difference_agrees_with_the_paired_t_test(name, level, key, pair, reference, digits_agreed):
    wanted, (x, y) = reference(FILE)[name][key], pair(name)
    found = bias_test([a - b for a, b in zip(x, y, strict=True)], 0.0, level=level)
    assert found.df == int(wanted["df"])
    pairs = ((found.bias, "estimate"), (found.u, "se"), (found.t, "t"))
    pairs += ((found.p_value, "p"), (found.low, "lower"), (found.high, "upper"))
    assert min(digits_agreed(value, wanted[of]) for value, of in pairs) >= 11


@pytest.mark.parametrize("name", ("shoes", "sleep", "Formaldehyde"))
def test_a_bias_against_a_reference_agrees_with_the_one_sample_t_test(name, pair, reference, digits_agreed):
    """R's interval is that of the mean; that of the bias is shifted by the reference."""
    wanted, (x, y) = reference(FILE)[name]["one_sample_vs_mu0"], pair(name)
    target = sum(y) / len(y)
    found = bias_test(x, target)
    assert found.df == int(wanted["df"])
    pairs = ((found.bias + target, "estimate"), (found.u, "se"), (found.t, "t"), (found.p_value, "p"))
    pairs += ((found.low + target, "lower"), (found.high + target, "upper"))
    assert min(digits_agreed(value, wanted[of]) for value, of in pairs) >= 11


def test_half_widths_rest_on_the_t_quantiles_of_high_precision_arithmetic(rows, digits_agreed):
    """summary of n evenly spaced results: (high − low) / 2u is the t quantile with n − 1 df."""
    wanted = [r for r in rows("general/central_quantiles.csv") if r["distribution"] == "t"]
    for row in wanted:
        found = summary(range(int(row["df"]) + 1), level=2 * float(row["p"]) - 1)
        assert digits_agreed((found.high - found.low) / 2 / found.u, row["quantile"]) >= 11, row


def test_limits_of_a_standard_deviation_rest_on_the_chi_square_quantiles(rows, digits_agreed):
    """against_claim: low = √(df/χ²) at the upper quantile, high = √(df/χ²) at the lower one."""
    wanted = [r for r in rows("general/central_quantiles.csv") if r["distribution"] == "chisq" and r["p"] != "0.5"]
    for row in wanted:
        p, df = float(row["p"]), float(row["df"])
        claim = against_claim(1.0, df, 1.0, level=abs(2 * p - 1))
        limit = claim.low if p > 0.5 else claim.high
        assert digits_agreed(df / limit**2, row["quantile"]) >= 11, row
