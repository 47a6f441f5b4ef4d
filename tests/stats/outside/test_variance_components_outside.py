"""Mean squares and variance components against R (aov, lme4) on open data sets."""

from __future__ import annotations

import numpy as np
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
    assert digits_agreed(found.f, wanted["aov_F"]) >= 11
    assert digits_agreed(found.p_value, wanted["aov_p"]) >= 9
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


@pytest.mark.parametrize("name", ("Pastes", *SPECIMENS))
def test_reml_of_nested_factors_agrees_with_lmer(name, rows, specimen, reference, digits_agreed):
    """Six digits, or where lmer's own optimum ends; the laboratory component of S4 is zero in both."""
    if name == "Pastes":
        table, wanted = rows("general/pastes.csv"), reference(FILE)[name]
        values, outer, inner = ([r[c] for r in table] for c in ("strength", "batch", "cask"))
        in_lmer = ("batch", "cask_batch")
    else:
        values, outer, inner, wanted = specimen(name)
        in_lmer = ("Lab", "Bat_Lab")
    found = crossed(
        [float(v) for v in values], {"outer": outer, "inner": [f"{o}:{i}" for o, i in zip(outer, inner, strict=True)]}
    )
    reml = wanted["reml_variances"]
    assert found.components["outer"] == pytest.approx(float(reml[in_lmer[0]]), rel=1e-6, abs=1e-12)
    assert digits_agreed(found.components["inner"], reml[in_lmer[1]]) >= 6
    assert digits_agreed(found.s_r**2, reml["Residual"]) >= 6
    assert digits_agreed(found.mean, wanted["fixed_intercept"]) >= 9
    assert digits_agreed(found.se_mean, wanted["se_intercept"]) >= 6
    assert digits_agreed(found.reml_criterion, wanted["reml_criterion"]) >= 9


def test_reml_pools_what_a_negative_component_held(one_way_data, digits_agreed):
    """Dyestuff2: between batches 0, and all results as one sample (lmer: 13.806)."""
    values, groups, wanted = one_way_data("Dyestuff2")
    found = crossed(values, {"group": groups})
    assert found.components["group"] == pytest.approx(0, abs=1e-12)
    assert digits_agreed(found.s_r**2, wanted["reml_variances"]["Residual"]) >= 9
    assert digits_agreed(found.se_mean, wanted["se_intercept"]) >= 9


@pytest.mark.parametrize("level", ("1", "2", "3", "4"))
def test_reml_with_unequal_groups_agrees_with_statsmodels(level):
    """Sulfur in coal, 3 to 5 replicates; statsmodels' optimiser ends at about five digits."""
    import pandas as pd
    from statsmodels.regression.mixed_linear_model import MixedLM

    from validate.checks.loading import FOLDER

    table = pd.read_csv(FOLDER / "sulfur_in_coal.csv").query(f"level == {level}")
    scaled = 100 * table["sulfur_percent"].to_numpy()
    fit = MixedLM(scaled, np.ones((len(table), 1)), groups=table["laboratory"].to_numpy()).fit(method="lbfgs")
    found = crossed(scaled, {"laboratory": table["laboratory"].tolist()})
    assert found.components["laboratory"] == pytest.approx(float(fit.cov_re[0, 0]), rel=1e-4)
    assert found.s_r**2 == pytest.approx(float(fit.scale), rel=1e-4)
    assert found.mean == pytest.approx(float(fit.fe_params[0]), rel=1e-6)
    assert found.se_mean == pytest.approx(float(fit.bse_fe[0]), rel=1e-4)
