"""The budget: which figures enter, how, and what is missing when they do not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.working import recompute
from validate.studies.uncertainty.kinds import FINDINGS
from validate.studies.uncertainty.tests.budget_bench import BIAS, METHOD, PRECISION, RECOVERY, evaluate, lines, needed
from validate.vocabulary.evaluation import StudyResult


def value(result: StudyResult, name: str, level: str | None = "5") -> float | None:
    return result.finding(name, level).value


def test_bias_that_is_not_corrected_enters_with_its_standard_error() -> None:
    result = evaluate(PRECISION, BIAS)
    assert value(result, "u_within") == 0.4
    assert value(result, "u_bias") == pytest.approx((0.3**2 + 0.1**2) ** 0.5)
    assert value(result, "u_combined") == pytest.approx((0.4**2 + 0.3**2 + 0.1**2) ** 0.5)
    assert value(result, "expanded_uncertainty") == pytest.approx(2 * value(result, "u_combined"))
    assert value(result, "expanded_uncertainty_percent") == pytest.approx(40 * value(result, "u_combined"))


def test_correction_for_recovery_takes_the_bias_away_and_adds_its_own_error() -> None:
    result = evaluate(PRECISION, BIAS, RECOVERY, corrected_for_recovery="yes")
    assert value(result, "u_bias") == pytest.approx(5 * 2.0 / 94.0)


def test_several_levels_give_the_root_mean_square_and_the_references_once() -> None:
    recoveries = [needed("mean_recovery", r, level, se=3.0) for r, level in ((90.0, "1"), (104.0, "5"), (98.0, "20"))]
    bias = {"by": "several levels", "relative_u_of_reference_percent": "2"}
    result = evaluate(PRECISION, *recoveries, bias=bias)
    rms = ((10**2 + 4**2 + 2**2) / 3) ** 0.5
    assert value(result, "u_bias") == pytest.approx(0.05 * (rms**2 + 2**2) ** 0.5)


def test_step_of_the_reading_and_declared_contributions_are_added() -> None:
    sampling = {"name": "sampling", "relative_u_percent": "20", "origin": "an earlier study"}
    result = evaluate(PRECISION, BIAS, method=replace(METHOD, resolution=0.1), contributions=[sampling])
    square = 0.4**2 + 0.3**2 + 0.1**2 + 0.1**2 / 12 + 1.0**2
    assert value(result, "u_combined") == pytest.approx(square**0.5)
    assert ("sampling", "covered", "an earlier study") in lines(result, "coverage")


def test_degrees_of_freedom_are_welch_satterthwaite_and_t_rounds_them_down() -> None:
    result = evaluate(needed("s_intermediate", 0.4, df=5.7), needed("bias", 0.0, se=0.3, df=4.0), coverage="t")
    df = (0.25**2) / (0.4**4 / 5.7 + 0.3**4 / 4)
    finding = result.finding("expanded_uncertainty", "5")
    assert finding.df == pytest.approx(df) and 9 < df < 10
    assert finding.value == pytest.approx(2.262 * 0.5, rel=1e-4), "t of a printed table at 9 degrees of freedom"


def test_limits_of_u_are_chi_square_on_its_degrees_of_freedom() -> None:
    finding = evaluate(needed("s_intermediate", 0.4, df=9.0), needed("bias", 0.0, se=0.0)).finding("u_combined", "5")
    assert finding.interval("met").high == pytest.approx(1.645 * 0.4, rel=5e-4)


def test_the_least_favourable_of_several_studies_is_used_unless_one_is_named() -> None:
    other = needed("s_intermediate", 0.5, study="other")
    assert value(evaluate(PRECISION, other, BIAS), "u_within") == 0.5
    assert value(evaluate(PRECISION, other, BIAS, precision={"study": "recovery"}), "u_within") == 0.4


def test_relative_precision_of_one_material_serves_for_contents_near_it() -> None:
    found = [needed("rsd_intermediate", 10.0, None, study="lot"), needed("mean", 4.0, None, study="lot")]
    result = evaluate(*found, levels=["5", "8", "9"])
    assert value(result, "u_within") == pytest.approx(0.5)
    assert value(result, "u_within", "8") == pytest.approx(0.8)
    assert "no study of this protocol gives an intermediate precision at 9" in result.finding("u_within", "9").reason


def test_between_levels_precision_is_absolute_low_and_relative_high_and_never_beyond_them() -> None:
    found = [needed("s_intermediate", s, level) for s, level in ((0.3, "1"), (0.5, "10"), (4.011, "100"))]
    result = evaluate(*found, levels=["5", "200"])
    assert value(result, "u_within") == pytest.approx((0.3**2 + 0.2**2) ** 0.5, rel=0.02)
    assert result.finding("u_combined", "200").value is None


def test_precision_and_recovery_can_come_from_outside_the_protocol() -> None:
    precision = {"relative_percent": "8", "occasions": "25", "origin": "control material"}
    bias = {"recovery_percent": "94", "standard_error_percent": "2", "origin": "certified material"}
    result = evaluate(precision=precision, bias=bias)
    assert value(result, "u_combined") == pytest.approx(0.05 * (8**2 + 6**2 + 2**2) ** 0.5)
    assert result.finding("u_combined", "5").groups == 25


def test_without_a_bias_there_is_a_figure_and_no_verdict() -> None:
    finding = evaluate(PRECISION).finding("expanded_uncertainty", "5")
    assert finding.value == pytest.approx(0.8)
    assert "the bias is not in it" in finding.blocked[0]


def test_reasons_against_a_verdict_on_precision_or_bias_are_passed_on() -> None:
    result = evaluate(needed("s_intermediate", 0.4, blocked=("results are censored",)), BIAS)
    assert result.finding("expanded_uncertainty", "5").blocked == ("results are censored",)


def test_few_occasions_make_it_provisional() -> None:
    few = evaluate(needed("s_intermediate", 0.4, groups=6), BIAS)
    assert any(note.startswith("provisional") for note in few.finding("expanded_uncertainty", "5").notes)
    assert any(remark.text.startswith("Provisional") for remark in few.remarks)
    assert not any("rovisional" in remark.text for remark in evaluate(PRECISION, BIAS).remarks)


def test_sampling_is_said_to_be_missing_unless_it_is_in() -> None:
    assert any("Sampling is not in this uncertainty" in r.text for r in evaluate(PRECISION, BIAS).remarks)
    assert ("sampling", "omitted") in [line[:2] for line in lines(evaluate(PRECISION, BIAS), "coverage")]
    sampling = {"name": "sampling of lots", "relative_u_percent": "20", "origin": "an earlier study"}
    assert not any("Sampling is not" in r.text for r in evaluate(PRECISION, BIAS, contributions=[sampling]).remarks)


LAW = {"law": "eu-2023-2782", "mean_absolute_z": "0.8", "scored_with_percent": "25", "rounds": "two rounds"}


def test_default_of_the_law_holds_only_under_its_condition() -> None:
    assert value(evaluate(PRECISION, BIAS, default_of_law=LAW), "default_uncertainty", None) == 50
    for wrong in ({"mean_absolute_z": "2.1"}, {"scored_with_percent": "15"}):
        finding = evaluate(PRECISION, BIAS, default_of_law=LAW | wrong).finding("default_uncertainty")
        assert finding.value is None and "condition" in finding.reason
    no_score = {"law": "eu-2023-2782"}
    assert evaluate(PRECISION, BIAS, default_of_law=no_score).finding("default_uncertainty").value is None


def test_default_of_the_law_can_be_what_is_stated_and_says_so() -> None:
    result = evaluate(basis="default of the law", default_of_law=LAW)
    assert value(result, "expanded_uncertainty") == pytest.approx(2.5)
    assert any("default of a law" in remark.text for remark in result.remarks)
    refused = evaluate(basis="default of the law", default_of_law=LAW | {"mean_absolute_z": "3"})
    assert refused.finding("expanded_uncertainty", "5").value is None


DESIGNS: dict[str, dict[str, Any]] = {
    "bias by level": {},
    "corrected": {"corrected_for_recovery": "yes"},
    "several levels": {"bias": {"by": "several levels", "relative_u_of_reference_percent": "1.5"}},
    "t": {"coverage": "t"},
    "contributions": {
        "contributions": [
            {"name": "sampling", "relative_u_percent": "20", "origin": "earlier"},
            {"name": "moisture", "relative_u_percent": "1", "origin": "earlier"},
        ]
    },
    "simple": {"rule": "simple"},
    "beyond reasonable doubt": {"rule": "beyond reasonable doubt"},
    "law": {"basis": "default of the law", "default_of_law": LAW},
}


@pytest.mark.parametrize("design", DESIGNS)
def test_working_recomputes_to_its_finding(design: str) -> None:
    found = (PRECISION, BIAS, RECOVERY, needed("mean_recovery", 97.0, "20", se=2.0))
    result = evaluate(*found, method=replace(METHOD, resolution=0.1), **DESIGNS[design])
    findings = [f for f in result.findings if f.value is not None]
    assert len(findings) >= 6
    for finding in findings:
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-12), finding.name


def test_every_kind_of_finding_is_given_or_says_why() -> None:
    result = evaluate(PRECISION, BIAS, levels=["5", "7"], default_of_law=LAW)
    assert {f.name for f in result.findings} == {kind.name for kind in FINDINGS}
    assert all(f.value is not None or f.reason for f in result.findings)
