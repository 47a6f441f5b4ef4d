"""The verdict on the lot in its own words, and what would decide one that is not shown."""

from __future__ import annotations

import numpy as np
import pytest

from validate.criteria.judging import judge_all
from validate.studies.lot_comparison.study import STUDY
from validate.studies.lot_comparison.tests.lots_bench import (
    CURRENT,
    NEW,
    equivalence,
    evaluate,
    joined,
    pairs,
    settings,
    shift_detection,
)
from validate.vocabulary.evaluation import Criterion, Requirement
from validate.vocabulary.verdict import JudgeBy, Verdict


def concluded(columns=None, **keys):
    """The conclusion that the pipeline would reach."""
    keys = keys or equivalence()
    made, result = settings(**keys), evaluate(columns, **keys)
    criteria = []
    for name, bound in made.accept.items():
        kind = STUDY.finding(name)
        low, high = bound.between or (bound.at_least, bound.at_most)
        criteria += [
            Criterion(
                kind="criterion", study="new-lot", finding=name, title=kind.title, level=level, low=low, high=high,
                unit=kind.unit, wording="", judge_by=JudgeBy(bound.judge_by), source="own",
                minimum_n=bound.minimum_n,
            )
            for level in (made.design.levels if kind.per_level and made.design.levels else (None,))
        ]  # fmt: skip
    judged = judge_all(criteria, {"new-lot": result}, {"new-lot": STUDY})
    both = zip(criteria, judged, strict=True)
    return STUDY.conclude(result, tuple(Requirement(criterion=c, as_reported=j, as_recorded=j) for c, j in both))


def shifted(factor):
    return pairs([factor * x for x in NEW], CURRENT)


def test_equal_lots_are_accepted_within_the_margin():
    found = concluded()
    assert (found.verdict, found.words) == (Verdict.MET, "accept")
    assert "within the margin (80 % to 120 %)" in found.sentences[0]


def test_a_lot_wholly_outside_the_margin_is_not_accepted():
    found = concluded(shifted(1.5))
    assert (found.verdict, found.words) == (Verdict.NOT_MET, "do not accept")


def test_a_lot_across_the_margin_is_not_shown_and_the_missing_samples_are_counted():
    found = concluded(shifted(1.17))
    assert (found.verdict, found.words) == (Verdict.NOT_SHOWN, "not shown")
    assert any("more samples" in sentence and "outside" not in sentence for sentence in found.sentences)


def test_the_missing_samples_would_decide_with_eighty_per_cent():
    """Differences with s = 0.2 and no shift, a margin of one such s: 11 pairs are stated, 4 were measured."""
    logs = np.array([0.2, -0.2, 0.2, -0.2]) * np.sqrt(3 / 4)
    keys = equivalence(margin={"factor": repr(float(np.exp(0.2))), "reason": "x"})
    found = concluded(pairs(np.exp(logs).tolist(), [1.0] * 4), **keys)
    assert "7 more samples (11 in all)" in " ".join(found.sentences)


def test_the_level_that_is_not_shown_is_named():
    new = [*(1.17 * x for x in CURRENT[:5]), *CURRENT[5:]]
    wobble = [1.06, 0.94, 1.03, 0.97, 1.0]
    new = [x * w for x, w in zip(new, wobble * 2, strict=True)]
    columns = pairs(new, CURRENT, level=["40"] * 5 + ["200"] * 5)
    found = concluded(columns, **equivalence(design={"levels": ["40", "200"]}))
    assert found.words == "not shown"
    assert any(sentence.startswith("At 40 µg/kg:") for sentence in found.sentences)
    assert not any("At 200" in sentence for sentence in found.sentences)


def test_levels_are_not_judged_one_by_one_when_the_margin_is_for_the_study():
    columns = pairs(level=["40"] * 5 + ["200"] * 5)
    margin = {"percent": "20", "reason": "x", "per": "study"}
    keys = equivalence(design={"levels": ["40", "200"]}, margin=margin)
    assert list(settings(**keys).accept) == ["lot_ratio_overall"]
    assert concluded(columns, **keys).words == "accept"


def test_no_shift_is_worded_as_what_would_not_have_stayed_hidden():
    found = concluded(pairs(NEW[:6], CURRENT[:6]), **shift_detection())
    assert found.words == "accept"
    assert "a shift of 20 % would not have stayed hidden (97 %)" in found.sentences[0]


def test_a_shift_beyond_the_rejection_limit_is_not_accepted():
    assert concluded(pairs([1.3 * x for x in CURRENT[:6]], CURRENT[:6]), **shift_detection()).words == "do not accept"


def test_fewer_pairs_than_the_rule_was_set_up_for_show_nothing():
    assert concluded(pairs(NEW[:4], CURRENT[:4]), **shift_detection()).words == "not shown"


def test_another_criterion_can_stand_against_an_equal_lot():
    blank = {"sample": ["W"], "lot": ["B"], "result": [7.0], "what": ["blank"]}
    bound = {"at_most": "5", "judge_by": "estimate", "source": "own", "reason": "x"}
    found = concluded(joined(pairs(), blank), **equivalence(accept={"blank_highest": bound}))
    assert found.words == "do not accept"
    assert "within the margin" in found.sentences[0]
    assert "other criteria" in found.sentences[-1]


@pytest.mark.parametrize(
    ("margin", "ends"),
    [
        ({"percent": "10"}, (90, 110)),
        ({"factor": "1.1"}, (100 / 1.1, 110)),
        ({"share": "0.25", "permitted_percent": "44"}, (89, 111)),
    ],
)
def test_a_margin_becomes_the_criterion_on_the_ratio(margin, ends):
    bound = settings(**equivalence(margin=margin | {"reason": "x"})).accept["lot_ratio"]
    assert bound.between == pytest.approx(ends)
    assert bound.judge_by == "interval"


def test_a_share_of_the_permitted_uncertainty_can_be_a_difference():
    margin = {"share": "0.3", "permitted": "20", "reason": "x"}
    bound = settings(**equivalence(form="difference", margin=margin)).accept["lot_difference"]
    assert bound.between == pytest.approx((-6, 6))
