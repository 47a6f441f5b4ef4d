"""Mean squares and variance components against R (aov, lme4) on open data sets."""

from __future__ import annotations

import pytest

from validate.stats.descriptive import summary
from validate.stats.precision import crossed, nested, one_way

FILE = "general/variance_components.toml"
ONE_WAY = {"Dyestuff": ("Yield", "Batch"), "Dyestuff2": ("Yield", "Batch"), "morley": ("Speed", "Expt")}
SPECIMENS = ("S1", "S2", "S3", "S4", "S5", "S6", "S7")


@pytest.fixture
def one_way_data(rows, reference):
    def read(name):
        value, label = ONE_WAY[name]
        table = rows(f"general/{name.lower()}.csv")
        return [float(r[value]) for r in table], [r[label] for r in table], reference(FILE)[name]

    return read


@pytest.fixture
def specimen(rows, reference):
    def read(name):
        table = [r for r in rows("general/coop.csv") if r["Spc"] == name]
        conc, labs, batches = ([r[c] for r in table] for c in ("Conc", "Lab", "Bat"))
        return [float(c) for c in conc], labs, batches, reference(FILE)[name]

    return read


@pytest.mark.parametrize("name", ONE_WAY)
def test_one_way_mean_squares_and_components_agree_with_aov(name, one_way_data, digits_agreed):
    values, groups, wanted = one_way_data(name)
    found = one_way(values, groups)
    assert (found.df_between, found.df_within) == (int(wanted["aov_df"]["v1"]), int(wanted["aov_df"]["v2"]))
    assert digits_agreed(found.n0, wanted["n0"]) >= 12
    assert digits_agreed(found.mean, wanted["fixed_intercept"]) >= 12
    assert digits_agreed(found.ms_between, wanted["aov_ms"]["between"]) >= 11
    assert digits_agreed(found.ms_within, wanted["aov_ms"]["within"]) >= 11
    assert digits_agreed(found.variance_between_raw, wanted["anova_variances"]["between"]) >= 11
    assert digits_agreed(found.s_r**2, wanted["anova_variances"]["within"]) >= 11


def test_a_negative_between_batch_variance_is_told_and_shown_as_zero(one_way_data):
    """Dyestuff2: the raw estimate stays −1.32, s_r stays √MS_within and is not pooled."""
    values, groups, wanted = one_way_data("Dyestuff2")
    found = one_way(values, groups)
    assert found.variance_between_raw < 0
    assert found.s_between == 0
    assert found.s_intermediate == found.s_r
    assert found.s_r**2 == pytest.approx(float(wanted["aov_ms"]["within"]), rel=1e-12)
    assert found.s_r**2 != pytest.approx(float(wanted["reml_variances"]["Residual"]), rel=1e-2)


@pytest.mark.parametrize("name", ("Dyestuff", "morley"))
def test_the_uncertainty_of_a_grouped_mean_agrees_with_the_mixed_model(name, one_way_data, digits_agreed):
    """REML on balanced data with a positive between component; lmer stops at 6 to 7 digits."""
    values, groups, wanted = one_way_data(name)
    assert digits_agreed(summary(values, groups).u, wanted["se_intercept"]) >= 6


@pytest.mark.parametrize("name", ("Dyestuff", "morley"))
def test_reml_components_of_one_factor_agree_with_lmer(name, one_way_data, digits_agreed):
    values, groups, wanted = one_way_data(name)
    found = crossed(values, {"group": groups})
    reml = list(wanted["reml_variances"].values())
    assert digits_agreed(found.components["group"], reml[0]) >= 6
    assert digits_agreed(found.s_r**2, reml[1]) >= 6


def test_nested_components_of_pastes_agree_with_aov(rows, reference, digits_agreed):
    """Strength of pastes: 10 batches, 3 casks in each, 2 tests of each cask."""
    table, wanted = rows("general/pastes.csv"), reference(FILE)["Pastes"]["anova_variances"]
    found = nested(*([float(r["strength"]) for r in table], [r["batch"] for r in table], [r["cask"] for r in table]))
    assert digits_agreed(found.s_r**2, wanted["residual"]) >= 11
    assert digits_agreed(found.s_inner**2, wanted["cask_in_batch"]) >= 11
    assert digits_agreed(found.s_outer**2, wanted["batch"]) >= 11
    total = sum(float(v) for v in wanted.values())
    assert digits_agreed(found.s_intermediate**2, total) >= 11


@pytest.mark.parametrize("name", SPECIMENS)
def test_nested_components_of_the_cooperative_trial_agree_with_aov(name, specimen, digits_agreed):
    """Six laboratories, three batches, duplicates; the laboratory component of S4 is negative."""
    values, labs, batches, reference_values = specimen(name)
    wanted = {k: float(v) for k, v in reference_values["anova_variances_nested"].items()}
    found = nested(values, labs, batches)
    assert digits_agreed(found.s_r**2, wanted["residual"]) >= 11
    assert digits_agreed(found.s_inner**2, wanted["batch_in_lab"]) >= 11
    assert digits_agreed(found.s_outer**2, max(0.0, wanted["lab"])) >= 11
    total = wanted["residual"] + wanted["batch_in_lab"] + max(0.0, wanted["lab"])
    assert digits_agreed(found.s_intermediate**2, total) >= 11


@pytest.mark.parametrize("name", SPECIMENS)
def test_one_way_by_laboratory_agrees_with_aov(name, specimen, digits_agreed):
    values, labs, _, wanted = specimen(name)
    found = one_way(values, labs)
    assert digits_agreed(found.mean, wanted["grand_mean"]) >= 12
    assert digits_agreed(found.ms_between, wanted["oneway_by_lab_ms"]["lab"]) >= 11
    assert digits_agreed(found.ms_within, wanted["oneway_by_lab_ms"]["within"]) >= 11
    assert digits_agreed(found.s_r, wanted["oneway_repeatability_sd"]) >= 11
    assert digits_agreed(found.s_intermediate, wanted["oneway_reproducibility_sd"]) >= 11
