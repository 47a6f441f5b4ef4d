"""Equivalence and shift against R's t.test, var.test and power.t.test on open data sets."""

from __future__ import annotations

import pytest

from validate.stats.design import pairs_for_equivalence
from validate.stats.design_lots import shift_power
from validate.stats.equivalence import tost_mean, tost_two_means, variance_ratio

FILE = "general/equivalence.toml"
NAMES = ("shoes", "sleep", "Formaldehyde")


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


@pytest.mark.parametrize("name", NAMES)
def test_two_one_sided_paired_tests_agree_with_r(name, pair, reference, digits_agreed):
    x, y = pair(name)
    low, high = (reference(FILE)[name][f"tost_paired_{end}"] for end in ("lower", "upper"))
    found = tost_mean([a - b for a, b in zip(x, y, strict=True)], (float(low["mu"]), float(high["mu"])))
    assert found.df == int(low["df"])
    assert found.level == 0.9
    wanted = (
        (found.estimate, low["estimate"]), (found.se, low["se"]), (found.t_low, low["t"]), (found.t_high, high["t"]),
        (found.p_low, low["p"]), (found.p_high, high["p"]), (found.low, low["lower"]), (found.high, high["upper"]),
    )  # fmt: skip
    assert min(digits_agreed(value, text) for value, text in wanted) >= 10
    assert found.p_value == max(found.p_low, found.p_high)


@pytest.mark.parametrize("name", NAMES)
def test_two_one_sided_welch_tests_agree_with_r(name, pair, reference, digits_agreed):
    low, high = (reference(FILE)[name][f"tost_welch_{end}"] for end in ("lower", "upper"))
    found = tost_two_means(*pair(name), (float(low["mu"]), float(high["mu"])))
    wanted = (
        (found.df, low["df"]), (found.se, low["se"]), (found.t_low, low["t"]), (found.t_high, high["t"]),
        (found.p_low, low["p"]), (found.p_high, high["p"]), (found.low, low["lower"]), (found.high, high["upper"]),
    )  # fmt: skip
    assert min(digits_agreed(value, text) for value, text in wanted) >= 10


@pytest.mark.parametrize("name", NAMES)
def test_the_ratio_of_spreads_is_the_root_of_var_test(name, pair, reference, digits_agreed):
    wanted, found = reference(FILE)[name]["f_test_variances"], variance_ratio(*pair(name), level=0.95)
    values = ((found.f, "F"), (found.p_value, "p"), (found.low**2, "lower"), (found.high**2, "upper"))
    assert min(digits_agreed(value, wanted[key]) for value, key in values) >= 10


def test_pairs_against_one_end_of_a_margin_are_those_of_the_one_sided_t_test(rows, digits_agreed):
    """With the other end of the margin far away one of the two tests is left."""
    for row in rows("general/sample_sizes_one_sided_t.csv"):
        ratio = float(row["ratio"])
        found = pairs_for_equivalence((-1e6, ratio), 1.0, power=float(row["power"]), alpha=float(row["alpha"]))
        assert found.n == int(row["n"]), row
        assert digits_agreed(found.power, row["power_reached"]) >= 8, row


def test_the_power_of_a_shift_rule_is_that_of_the_two_sided_t_test(rows, digits_agreed):
    """power.t.test takes s from the n differences themselves: df = n − 1."""
    table = rows("general/sample_sizes_two_sided_t.csv")
    assert len(table) == 42
    for row in table:
        n = int(row["n"])
        found = shift_power(float(row["ratio"]), 1.0, n, df=n - 1, false_alarm=float(row["alpha"]))
        assert digits_agreed(found, row["power_reached"]) >= 8, row
