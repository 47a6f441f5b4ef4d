"""δ of the detection limit against the noncentral t in high-precision arithmetic."""

from __future__ import annotations

import math

import pytest
from scipy import special

from validate.stats.detection import from_blanks, noncentrality
from validate.stats.intervals import noncentral_t_quantile, t_quantile

STATED = {3: 4.4564, 4: 4.0673, 5: 3.8699, 6: 3.7516, 9: 3.5754, 10: 3.5430, 19: 3.4150, math.inf: 3.2897}
"""Degrees of freedom: δ for errors of 5 % on both sides, to four decimals."""


def probability_in_30_digits(t, df, delta):
    """P(T′(ν, δ) ≤ t) = E Φ(t·√(χ²/ν) − δ), by quadrature."""
    import mpmath as mp

    with mp.workdps(30):
        t, nu, shift = mp.mpf(t), mp.mpf(df), mp.mpf(delta)
        constant = 2 * (nu / 2) ** (nu / 2) / mp.gamma(nu / 2)

        def integrand(s):
            return constant * s ** (nu - 1) * mp.exp(-nu * s * s / 2) * mp.ncdf(t * s - shift)

        return float(mp.quad(integrand, [0, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 2, 3, 5, 9]))


@pytest.mark.parametrize("df", STATED)
def test_delta_for_errors_of_5_percent_is_the_stated_one(df):
    assert noncentrality(df, alpha=0.05, beta=0.05) == pytest.approx(STATED[df], abs=0.00005)


@pytest.mark.parametrize(("alpha", "beta"), ((0.05, 0.05), (0.01, 0.05), (0.05, 0.2)))
@pytest.mark.parametrize("df", (3, 6, 9, 19))
def test_a_sample_at_delta_is_missed_with_probability_beta(df, alpha, beta):
    missed = probability_in_30_digits(t_quantile(1 - alpha, df), df, noncentrality(df, alpha=alpha, beta=beta))
    assert missed == pytest.approx(beta, rel=1e-9)


def test_delta_exists_for_every_number_of_blanks():
    """Far from the root the distribution function gives no number: the search must not go there."""
    for df in range(1, 201):
        t = t_quantile(0.95, df)
        assert special.nctdtr(df, noncentrality(df, alpha=0.05, beta=0.05), t) == pytest.approx(0.05, rel=1e-9), df


@pytest.mark.parametrize(("df", "percent"), ((3, 5.6), (9, 2.5), (19, 1.3)))
def test_twice_t_exceeds_delta_by_the_stated_percentage(df, percent):
    found = from_blanks(range(df + 1))
    assert 100 * (found.twice_t / found.detection_concentration - 1) == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize(("n", "factor"), ((7, 1.915), (10, 1.645), (20, 1.370)))
def test_the_upper_limit_of_a_detection_limit_is_the_stated_multiple(n, factor):
    found = from_blanks(range(n))
    assert found.detection_upper / found.detection_concentration == pytest.approx(factor, abs=0.0005)


def test_the_distribution_that_delta_inverts_agrees_with_quantiles_in_30_digits(rows):
    """P(T′(ν, δ) ≤ quantile) = p, in the upper tail."""
    table = rows("general/noncentral_t_quantiles.csv")
    assert len(table) == 125
    for row in table:
        p, df, ncp, quantile = (float(row[column]) for column in ("p", "df", "ncp", "quantile"))
        assert 1 - special.nctdtr(df, ncp, quantile) == pytest.approx(1 - p, rel=1e-9), row


def test_quantiles_agree_with_30_digit_arithmetic(rows, digits_agreed):
    for row in rows("general/noncentral_t_quantiles.csv"):
        found = noncentral_t_quantile(float(row["p"]), float(row["df"]), float(row["ncp"]))
        assert digits_agreed(found, row["quantile"]) >= 12, row


def test_quantiles_divided_by_the_root_of_n_are_one_sided_tolerance_factors(rows, digits_agreed):
    for row in rows("general/tolerance_factors.csv"):
        n, shift = int(row["n"]), float(special.ndtri(float(row["coverage"])))
        found = noncentral_t_quantile(float(row["confidence"]), n - 1, shift * math.sqrt(n)) / math.sqrt(n)
        assert digits_agreed(found, row["k_one_sided"]) >= 12, row
