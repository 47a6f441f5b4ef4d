"""Homogeneity of variances against R (car::leveneTest) on open data sets."""

from __future__ import annotations

import statistics

import pytest

from validate.stats.outliers import cochran
from validate.stats.precision import one_way
from validate.stats.variances import brown_forsythe

FILE = "general/homogeneity.toml"
COLUMNS = {
    "InsectSprays": ("count", "spray"),
    "PlantGrowth": ("weight", "group"),
    "Dyestuff": ("Yield", "Batch"),
    "S1": ("Conc", "Lab"),
}


@pytest.fixture
def grouped(rows, reference):
    def read(name):
        wanted, (value, label) = reference(FILE)[name], COLUMNS[name]
        table = [r for r in rows(f"general/{wanted['data']}") if name != "S1" or r["Spc"] == "S1"]
        return [float(r[value]) for r in table], [r[label] for r in table], wanted

    return read


@pytest.mark.parametrize("name", COLUMNS)
def test_levene_on_medians_agrees_with_levene_test(name, grouped, digits_agreed):
    values, groups, wanted = grouped(name)
    wanted, found = wanted["brown_forsythe_median"], brown_forsythe(values, groups)
    assert (found.df1, found.df2) == (int(wanted["df1"]), int(wanted["df2"]))
    assert digits_agreed(found.f, wanted["F"]) >= 11
    assert digits_agreed(found.p_value, wanted["p"]) >= 9


@pytest.mark.parametrize("name", COLUMNS)
def test_cochran_statistic_is_the_largest_share_of_the_variances(name, grouped, digits_agreed):
    values, groups, wanted = grouped(name)
    by_group = {g: [v for v, label in zip(values, groups, strict=True) if label == g] for g in dict.fromkeys(groups)}
    variances = [statistics.variance(of_one) for of_one in by_group.values()]
    sizes = {len(of_one) for of_one in by_group.values()}
    assert len(sizes) == 1
    assert digits_agreed(cochran(variances, sizes.pop()).statistic, wanted["cochran_C"]) >= 11


@pytest.mark.parametrize("name", COLUMNS)
def test_the_f_test_between_groups_agrees_with_oneway_test(name, grouped, digits_agreed):
    values, groups, wanted = grouped(name)
    found = one_way(values, groups)
    assert digits_agreed(found.f, wanted["oneway_F"]["F"]) >= 11
    assert digits_agreed(found.p_value, wanted["oneway_F"]["p"]) >= 9
