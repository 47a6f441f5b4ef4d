"""Critical values and homogeneity of variances against high-precision formulas and R."""

from __future__ import annotations

import pytest

from validate.checks.loading import checks
from validate.stats.outliers import cochran, grubbs, grubbs_pair

ATTRIBUTE = {"0.05": "critical_5", "0.01": "critical_1"}


def test_cochran_critical_values_agree_with_the_f_quantiles_in_30_digits(rows, digits_agreed):
    for row in rows("general/cochran_critical.csv"):
        variances = [1.0] * int(row["p"])
        for n in range(2, 11):
            found = getattr(cochran(variances, n), ATTRIBUTE[row["alpha"]])
            assert digits_agreed(found, row[f"n={n}"]) >= 9, (row["p"], n, row["alpha"])


@pytest.mark.parametrize(("sides", "end", "column"), ((1, "high", "one_sided"), (2, None, "two_sided")))
def test_grubbs_critical_values_agree_with_the_t_quantiles_in_30_digits(sides, end, column, rows, digits_agreed):
    for row in rows("general/grubbs_critical.csv"):
        found = grubbs(range(int(row["n"])), sides=sides, end=end)
        assert digits_agreed(getattr(found, ATTRIBUTE[row["alpha"]]), row[column]) >= 9, row


def test_simulated_critical_values_of_a_pair_lie_within_3_standard_errors_of_the_table():
    """ISO 5725-2:1994 Table 5 (from memory), printed to four decimals."""
    table = next(check for check in checks() if check.id == "iso-5725-2-grubbs")
    pairs = [case for case in table.cases if case.call == "outliers.grubbs_pair"]
    assert len(pairs) == 6
    for case in pairs:
        found = grubbs_pair(range(case.arguments["results"]), end="high")
        for name, error in zip(("critical_5", "critical_1"), found.monte_carlo_error, strict=True):
            assert abs(getattr(found, name) - float(case.expected[name])) <= 3 * error + 0.00005, (case.name, name)
