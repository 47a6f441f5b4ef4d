"""Sample sizes against R's power.t.test: recovery shown to lie inside a limit is a one-sided t test."""

from __future__ import annotations

from validate.stats.design import replicates_for_recovery


def test_replicates_for_a_recovery_agree_with_the_one_sided_t_test(rows, digits_agreed):
    """`ratio` is the distance from the true mean to the nearer limit over the standard deviation."""
    table = rows("general/sample_sizes_one_sided_t.csv")
    assert len(table) == 42
    for row in table:
        found = replicates_for_recovery(float(row["ratio"]), 1.0, power=float(row["power"]), alpha=float(row["alpha"]))
        assert found.n == int(row["n"]), row
        assert digits_agreed(found.power, row["power_reached"]) >= 8, row
