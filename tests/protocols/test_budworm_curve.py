"""The budworm moths, evaluated as a screening study, give the doses of general-purpose software in all its digits."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from validate import evaluate, load

FOLDER = Path(__file__).parents[2] / "protocols" / "budworm"
PUBLISHED = {
    "logistic-curve": {"level_50": ("2.2388150890951954", 0.20398708), "level_95": ("4.5776214958960370", 0.43696023)},
    "normal-curve": {"level_50": ("2.2336179696041690", 0.19829810), "level_95": ("4.4657847865025765", 0.37857501)},
    "complementary-log-log": {
        "level_50": ("2.4435030178322465", 0.20723084),
        "level_95": ("4.2177104753152662", 0.29019950),
    },
}
"""log2 of the dose (mpmath 1.4.1, 40 digits; R 4.2.2 within 1e-8) and its standard error by the delta method."""


@pytest.fixture(scope="module")
def studies():
    return {study.name: study.as_reported for study in evaluate(load(FOLDER)).studies}


@pytest.mark.parametrize("study", PUBLISHED)
@pytest.mark.parametrize("name", ("level_50", "level_95"))
def test_doses_agree_with_maximum_likelihood_in_40_digits(studies, study, name):
    found = studies[study].finding(name)
    assert found.n == 120
    assert math.log2(found.value) == pytest.approx(float(PUBLISHED[study][name][0]), rel=1e-9)


@pytest.mark.parametrize("study", PUBLISHED)
@pytest.mark.parametrize("name", ("level_50", "level_95"))
def test_profile_limits_lie_about_where_the_delta_method_puts_them(studies, study, name):
    """Half the width on log2 doses is 1.96 standard errors for large samples; here it is within a third of it."""
    _, error = PUBLISHED[study][name]
    shown = studies[study].finding(name).interval("shown")
    assert (math.log2(shown.high) - math.log2(shown.low)) / 2 == pytest.approx(1.96 * error, rel=1 / 3)


def test_every_moth_is_counted_at_its_dose(studies):
    shares = {f.level: f.value for f in studies["logistic-curve"].findings if f.name == "detection_rate"}
    assert shares == {"1": 5, "2": 20, "4": 45, "8": 65, "16": 90, "32": 100}


def test_data_without_a_target_have_no_cut_off_and_no_rate_of_missed_samples(studies):
    names = {finding.name for finding in studies["logistic-curve"].findings}
    assert names == {"detection_rate", "level_50", "level_95"}
