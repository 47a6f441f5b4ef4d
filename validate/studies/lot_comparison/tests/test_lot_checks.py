"""Bad input of a comparison ends in a message that says where, what, and how to mend it."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from validate.studies.lot_comparison.checking import PROBLEMS
from validate.studies.lot_comparison.tests.lots_bench import (
    CURRENT,
    NEW,
    SHIFT,
    SPREAD,
    equivalence,
    joined,
    pairs,
    problems,
    settings,
    shift_detection,
)
from validate.vocabulary.problem import ERROR, NOTICE

ABSOLUTE = {"absolute": "9", "reason": "x"}


def told(columns, **keys):
    return [(p.code, str(p.place)) for p in problems(columns, **keys)]


def test_a_sound_comparison_gives_no_message():
    assert told(pairs()) == []


@pytest.mark.parametrize(
    ("columns", "keys", "code", "place"),
    [
        ({"sample": [], "lot": [], "result": []}, {}, "no-results", "data"),
        (pairs([*NEW, "<5"], [*CURRENT, 7.0]), {}, "censored-result", "lots.csv:12:result"),
        (pairs([*NEW, 0.0], [*CURRENT, 7.0]), {}, "censored-result", "lots.csv:12:result"),
        (pairs([2 * x for x in CURRENT], CURRENT), equivalence(form="difference", margin=ABSOLUTE), None, None),
        (pairs(CURRENT, CURRENT), {}, "all-equal", "lots.csv:2:result"),
        (pairs(NEW[:1], CURRENT[:1]), {}, "one-pair", "lots.csv:2:sample"),
        (pairs(level=["40"] * 5 + ["200"] * 5), {}, "levels-not-declared", "design"),
        (pairs(level=["40"] * 9 + ["50"]), equivalence(design={"levels": ["40"]}), "undeclared-level",
         "lots.csv:11:level"),
        (pairs(level=["40"] * 10), equivalence(design={"levels": ["40", "90"]}), "level-without-results", "design"),
        (pairs(group=["1"] * 9 + [""]), equivalence(group_means="yes"), "group-missing", "lots.csv:11:group"),
        (joined(pairs(), {"sample": ["W"], "lot": ["B"], "result": [1.0], "what": ["blnk"]}), {}, "other-label",
         "lots.csv:22:what"),
        (pairs(), equivalence(new="C"), "no-results-with", "new"),
        (None, equivalence(accept={"lot_shift": {"between": ["90", "110"], "judge_by": "estimate", "source": "own",
                                                 "reason": "x"}}), "finding-of-another-design", "accept/lot_shift"),
        (None, equivalence(accept={"to_validation": {"between": ["90", "110"], "judge_by": "estimate", "source": "own",
                                                     "reason": "x"}}), "finding-of-another-design",
         "accept/to_validation"),
    ],
)  # fmt: skip
def test_each_fault_is_told_at_its_place(columns, keys, code, place):
    found = told(columns, **keys)
    assert (code, place) in found if code else found == []


def test_a_missing_partner_is_told_with_the_lot_that_lacks_it():
    columns = {name: cells[:-1] for name, cells in pairs().items()}
    found = problems(columns)
    assert [(p.code, str(p.place), p.severity) for p in found] == [("partner-missing", "lots.csv:11:sample", NOTICE)]
    assert 'sample "S10" has no result with lot "A"' in found[0].message


def test_codes_that_never_match_are_no_pairs():
    columns = pairs()
    columns["sample"] = [f"X{i}" for i in range(20)]
    assert [(p.code, p.severity) for p in problems(columns)] == [("no-pair", ERROR)]


def refused(**keys):
    with pytest.raises(ValidationError) as caught:
        settings(**keys)
    return [(".".join(map(str, error["loc"])), error["msg"]) for error in caught.value.errors()]


@pytest.mark.parametrize("percent", ["0", "-10"])
def test_a_margin_of_zero_or_below_is_refused(percent):
    assert refused(**equivalence(margin={"percent": percent, "reason": "x"}))[0][0] == "margin.percent"


@pytest.mark.parametrize(
    ("keys", "place", "words"),
    [
        (equivalence(new="A"), "current", "both are A"),
        ({"design": {"kind": "equivalence"}}, "margin", "needs a margin"),
        (equivalence(margin={"reason": "x"}), "margin", "one of percent, factor, absolute and share"),
        (equivalence(margin={"percent": "5", "factor": "1.1", "reason": "x"}), "margin.factor", "one of percent"),
        (equivalence(margin={"factor": "0.9", "reason": "x"}), "margin.factor", "above 1"),
        (equivalence(margin={"percent": "100", "reason": "x"}), "margin.percent", "below 100 %"),
        (equivalence(margin={"share": "0.3", "reason": "x"}), "margin.share", "share goes with permitted"),
        (equivalence(margin={"absolute": "3", "reason": "x"}), "margin", "goes with form: difference"),
        (equivalence(form="difference"), "margin", "goes with form: ratio"),
        (equivalence(shift=SHIFT), "shift", "belongs to kind: shift detection"),
        (equivalence(group_means="yes", paired="no"), "group_means", "of pairs"),
        (shift_detection(spread=None), "spread", "known repeatability"),
        (shift_detection(shift=None), "shift", "critical shift"),
        (shift_detection(0), "design", "write samples"),
        (shift_detection(paired="no"), "paired", "takes pairs"),
        (shift_detection(form="difference"), "shift", "as absolute"),
        (shift_detection(shift=SHIFT | {"false_alarm": "0.6"}), "shift.false_alarm", "below 0.5"),
        (equivalence(spread=SPREAD | {"s_r": "3"}), "spread", "either rsd_percent or s_r"),
        (equivalence(accept={"lot_ratio": {"between": ["90", "110"], "judge_by": "estimate", "source": "own",
                                           "reason": "x"}}), "accept", "follows from the margin"),
    ],
)  # fmt: skip
def test_settings_that_mean_nothing_are_refused(keys, place, words):
    assert any(at == place and words in message for at, message in refused(**keys)), refused(**keys)


def test_what_the_design_can_decide_is_said_before_the_work():
    weak = problems(None, **equivalence(design={"samples": "4"}, spread=SPREAD))
    assert [(p.code, p.severity) for p in weak] == [("weak-equivalence-design", NOTICE)]
    strong = problems(None, **equivalence(design={"samples": "12"}, spread=SPREAD))
    assert [p.code for p in strong] == ["equivalence-design-decides"]
    assert "5 pairs" in strong[0].mend
    assert [p.code for p in problems(None, **shift_detection(2))] == ["weak-shift-design"]
    assert [p.code for p in problems(None, **shift_detection(6))] == ["shift-design-decides"]


def test_every_problem_says_how_to_mend_it():
    assert all(entry["mend"] for entry in PROBLEMS.entries.values())
