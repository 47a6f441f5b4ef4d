"""Samples counted as detected, the evidence for a claim, the limit made of verdicts."""

from __future__ import annotations

import pytest

from validate.studies.contract import NeededFinding
from validate.studies.detection.tests.low_level_bench import BLANKS, DAYS, evaluate, lines
from validate.vocabulary.finding import Finding
from validate.vocabulary.verdict import Evidence, Verdict

MET, NOT_MET, NOT_SHOWN = Verdict.MET, Verdict.NOT_MET, Verdict.NOT_SHOWN


def test_a_declared_decision_limit_counts_samples_above_it() -> None:
    result = evaluate({"0": BLANKS, "1": [0.3, 0.31, 1.0, "<0.2", ""]}, setting={"decision_limit": "0.3"})
    assert result.finding("false_positive_rate").value == pytest.approx(10)
    rate = result.finding("detection_rate", "1")
    assert (rate.n, rate.value) == (4, pytest.approx(50)), "censored is not detected, an empty cell is not counted"


def test_without_a_declared_limit_the_critical_value_found_decides() -> None:
    result = evaluate({"0": BLANKS, "1": [0.40, 0.42]}, day="a")
    critical = 0.22 + result.finding("critical_value").value
    assert 0.40 < critical < 0.42
    assert result.finding("detection_rate", "1").value == 50
    assert any("found from themselves" in remark.text for remark in result.remarks)


def test_what_the_test_itself_says_goes_before_any_limit() -> None:
    said = ["no"] * 10 + ["yes", "no"]
    result = evaluate({"0": BLANKS, "1": [9.0, 9.0]}, detected=said)
    assert result.finding("detection_rate", "1").value == 50


def test_rates_have_exact_limits() -> None:
    rate = evaluate({"0": BLANKS, "1": [1.0] * 20}, setting={"decision_limit": "0.5"}).finding("detection_rate", "1")
    assert rate.interval("met").low == pytest.approx(86.1, abs=0.05)


def test_the_limit_brings_the_samples_that_confirm_it() -> None:
    spikes = {"0": BLANKS, "2": [1.0] * 20, "1": [1.0] * 19 + [0.1]}
    found = evaluate(spikes, setting={"decision_limit": "0.5"}, comparisons=2).finding("lod").detection
    assert (found.blanks, found.false_positives) == (10, 0)
    assert [(t.level, t.n, t.detected) for t in found.trials] == [("1", 20, 19), ("2", 20, 20)]
    assert found.trials[1].low == pytest.approx(0.861, abs=5e-4)


def test_a_limit_that_no_sample_near_it_confirms_is_marked() -> None:
    far = evaluate({"0": BLANKS, "5": [5.0, 5.1]}, day="a")
    assert any("not confirmed" in note for note in far.finding("lod").notes)
    assert any("not confirmed" in remark.text for remark in far.remarks)
    assert "none: not confirmed" in {line[7] for line in lines(far, "approaches")}
    near = evaluate({"0": BLANKS, "0.4": [0.5, 0.6]}, day="a")
    assert not any("not confirmed" in note for note in near.finding("lod").notes)


def test_lowest_level_detected_holds_from_there_on() -> None:
    claim = {"decision_limit": "0.5", "lod": {"by": "trials"}}
    spikes = {"0": BLANKS, "1": [1.0] * 20, "2": [1.0] * 10 + [0.1] * 10, "4": [4.0] * 20}
    assert evaluate(spikes, setting=claim).finding("lod").value == 4
    spikes["2"] = [2.0] * 20
    assert evaluate(spikes, setting=claim).finding("lod").value == 1


def test_blanks_that_are_detected_too_often_leave_no_limit_by_trials() -> None:
    claim = {"decision_limit": "0.25", "lod": {"by": "trials"}}
    assert "blanks counted as detected" in evaluate({"0": BLANKS, "1": [1.0] * 20}, setting=claim).finding("lod").reason


def test_the_curve_gives_the_level_of_95_percent_and_says_when_it_cannot() -> None:
    claim = {"decision_limit": "0.5", "lod": {"by": "POD"}}
    spikes = {level: [1.0] * hits + [0.1] * (20 - hits) for level, hits in (("1", 5), ("2", 9), ("4", 17), ("8", 20))}
    found = evaluate({"0": BLANKS, **spikes}, setting=claim).finding("lod")
    assert found.value == pytest.approx(5.386, abs=5e-4), "as a binomial GLM of statsmodels with that link gives"
    steep = {"1": [0.1] * 5, "2": [1.0] * 5}
    assert "complete separation" in evaluate({"0": BLANKS, **steep}, setting=claim).finding("lod").reason


def needed(name: str, level: str, *verdicts: Verdict, evidence: Evidence | None = None) -> NeededFinding:
    finding = Finding(name=name, level=level, value=90.0, unit="%", n=12, groups=6, formula="constructed",
                      source="constructed")  # fmt: skip
    return NeededFinding(study="recovery", finding=finding, verdicts=verdicts, evidence=(evidence,) * len(verdicts))


def by_criteria(*found: NeededFinding, **setting: object) -> Finding:
    loq = {"by": "criteria"} | setting
    return evaluate({"0": BLANKS}, day=DAYS, needed=found, setting={"loq": loq}).finding("loq")


def test_quantification_limit_is_the_lowest_level_that_meets_every_criterion() -> None:
    found = by_criteria(
        needed("mean_recovery", "1", MET),
        needed("rsd_r", "1", NOT_MET),
        needed("mean_recovery", "2.5", MET, evidence=Evidence.FIRM),
        needed("rsd_r", "2.5", MET, evidence=Evidence.FIRM),
        needed("mean_recovery", "5", MET),
        needed("rsd_r", "5", MET),
    )
    assert found.value == 2.5
    assert [(each.level, each.verdict) for each in found.levels_judged] == [("1", NOT_MET), ("2.5", MET), ("5", MET)]
    assert found.levels_judged[1].evidence is Evidence.FIRM


def test_recovery_without_precision_makes_no_quantification_limit() -> None:
    found = by_criteria(needed("mean_recovery", "1", MET))
    assert found.value is None
    assert found.levels_judged[0].verdict is NOT_SHOWN
    assert by_criteria(needed("mean_recovery", "1", MET), findings=["mean_recovery"]).value == 1


def test_lowest_level_studied_and_failures_above_are_told() -> None:
    pairs = [(level, verdict) for level, verdict in (("1", MET), ("2.5", NOT_SHOWN))]
    found = by_criteria(*(needed(name, level, v) for level, v in pairs for name in ("mean_recovery", "rsd_r")))
    assert "may lie below" in found.notes[0]
    assert "at level 2.5" in found.notes[1]


def test_without_another_study_there_is_no_limit_by_criteria() -> None:
    assert "no study of this protocol judges" in by_criteria().reason
