"""The printed arithmetic of every finding gives the finding, whatever the design."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.working import recompute, recompute_limits
from validate.studies.contract import ReferenceValue
from validate.studies.recovery.findings import FINDINGS
from validate.studies.recovery.settings import HORRATS
from validate.studies.recovery.tests.bench import evaluate

FOUND = [5.1, 5.3, 4.6, 4.9, 5.8, 5.6, 5.0, 4.7, 5.4]
DAYS = ["a", "a", "b", "b", "c", "c", "d", "d", "d"]
DESIGNS: dict[str, dict[str, Any]] = {
    "unequal days": {"day": DAYS},
    "no days": {},
    "one result a day": {"day": list("abcdefghi")},
    "negative component": {"day": ["a", "b", "c"] * 3},
    "analysts within days": {"day": DAYS, "analyst": ["V", "O"] * 4 + ["V"]},
    "native from the protocol": {"day": DAYS, "setting": {"native": {"value": "0.4", "s": "0.1", "n": "4"}}},
    "native beside each result": {"day": DAYS, "native": [0.2] * 8 + [0.5], "setting": {"native": {"from": "column"}}},
    "certified": {
        "day": DAYS,
        "setting": {"contamination": "certified", "reference": {"5": "CRM"}},
        "materials": {"CRM": ReferenceValue(material="CRM", value=5.3, u=0.1)},
    },
}


@pytest.mark.parametrize("design", DESIGNS)
def test_working_recomputes_to_its_finding(design: str) -> None:
    more = dict(DESIGNS[design])
    more["setting"] = {"horrat": list(HORRATS)} | more.get("setting", {})
    findings = [f for f in evaluate(FOUND, **more).findings if f.value is not None]
    assert len(findings) >= 4
    for finding in findings:
        assert finding.working is not None, finding.name
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-12, abs=1e-12), finding.name


@pytest.mark.parametrize("design", DESIGNS)
def test_limits_recompute_from_what_they_rest_on(design: str) -> None:
    """t for the mean and the bias, chi-square for one mean square, MLS for their sum, and through s for ratios."""
    more = dict(DESIGNS[design])
    more["setting"] = {"horrat": list(HORRATS)} | more.get("setting", {})
    findings = [f for f in evaluate(FOUND, **more).findings if f.interval("shown")]
    assert len(findings) >= 4
    for finding in findings:
        shown = finding.interval("shown")
        assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-12), finding.name


@pytest.mark.parametrize("design", DESIGNS)
def test_every_kind_of_finding_is_given_for_every_level(design: str) -> None:
    more = dict(DESIGNS[design])
    more["setting"] = {"horrat": list(HORRATS)} | more.get("setting", {})
    result = evaluate(FOUND, levels=("5", "7"), **more)
    assert {(f.name, f.level) for f in result.findings} == {(k.name, lv) for k in FINDINGS for lv in ("5", "7")}
    assert all(f.value is not None or f.reason for f in result.findings)


@pytest.mark.parametrize("design", DESIGNS)
def test_intervals_hold_the_estimate_and_widen_with_confidence(design: str) -> None:
    for finding in evaluate(FOUND, comparisons=9, **DESIGNS[design]).findings:
        if finding.value is None:
            continue
        met, shown, not_met = (finding.interval(use) for use in ("met", "shown", "not_met"))
        assert not_met.low <= shown.low <= met.low < finding.value < met.high <= shown.high <= not_met.high


def test_sampling_says_how_the_spread_scatters() -> None:
    finding = evaluate(FOUND, day=DAYS).finding("rsd_intermediate", "5")
    assert finding.sampling.kind == "scaled_chi_sum"
    assert math.fsum(finding.sampling.shares) == pytest.approx(1)
    assert finding.sampling.dfs == (3, 5)
