"""What follows for the scores when the units of a material are not alike or do not stay so."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from validate.pipeline import evaluate, prepare
from validate.studies.proficiency_round.tests.round_bench import (
    long_table,
    problems,
    remarks,
    scores,
    written,
)
from validate.vocabulary.evaluation import StudyEvaluation

RESULTS = {f"L{i}": [100 + 1.7 * (i - 8)] for i in range(1, 16)}
ALIKE = [(100, 102), (101, 99), (98, 100), (103, 101), (100, 100), (99, 101), (102, 100), (97, 99), (101, 101),
         (100, 98)]  # fmt: skip
UNLIKE = [(100 + d + 1, 100 + d - 1) for d in (-8, -6, -4, -2, -1, 1, 2, 4, 6, 8)]
S_SAM = math.sqrt(242 / 9 - 1)
"""Of UNLIKE, by hand: variance of the unit means 242/9, MS_w 2."""
OPEN = [(100 + d + 4, 100 + d - 4) for d in (-6, -5, -4, -3, -1, 1, 3, 4, 5, 6)]
S_SAM_OPEN = math.sqrt(174 / 9 - 16)
"""Of OPEN, by hand: variance of the unit means 174/9, MS_w 32. Above 0.3·5, within the IUPAC limit."""
CHANGED = [(110, 111), (109, 110), (111, 110)]


def folder_of(folder, pairs, declared, *, sigma=10, sigma_of_units=None, study="units", second="", later=()):
    """A round of fifteen laboratories whose sample was examined by a study of this protocol."""
    stability = "    stability: {period: 30}\n" if later else ""
    settings = f"""    samples: [A]
    assigned_value: {{by: algorithm A}}
    sigma_pt: {{by: prescribed, value: {sigma}, source: test}}
    materials: [{{study: {study}, samples: [A], when_not_sufficient: {declared}}}]
{second}  units:
    kind: homogeneity
    data: {{file: units.csv}}
    sigma_pt: {{value: {sigma_of_units or sigma}, source: test}}
    when_not_sufficient: {declared}
{stability}"""
    written(folder, long_table(RESULTS), settings)
    days = [(0, pair) for pair in pairs] + [(30, pair) for pair in later]
    rows = [f"U{i},{k},{day},{x}" for i, (day, pair) in enumerate(days, 1) for k, x in enumerate(pair, 1)]
    (folder / "units.csv").write_text("\n".join(["unit,replicate,days,result", *rows]) + "\n", encoding="utf-8")
    return folder


def round_on(folder, *arguments, **keys) -> StudyEvaluation:
    return _evaluated(folder_of(folder, *arguments, **keys))


def _evaluated(folder: Path) -> StudyEvaluation:
    return next(study for study in evaluate(prepare(folder)).studies if study.kind == "proficiency_round")


def finding(study: StudyEvaluation, name: str) -> float:
    return study.as_reported.finding(name, "A").value


def first_score(study: StudyEvaluation) -> float | None:
    return scores(study)["L1", "A"]["z"]


@pytest.mark.parametrize("declared", ["widen", "refuse", "carry"])
def test_units_that_are_alike_change_nothing(tmp_path, declared) -> None:
    found = round_on(tmp_path, ALIKE, declared)
    assert finding(found, "sigma_pt") == 10 and first_score(found) == pytest.approx(-1.19)
    assert "homogeneity" not in remarks(found).lower()


def test_unlike_units_widen_sigma_and_so_the_scores(tmp_path) -> None:
    found = round_on(tmp_path, UNLIKE, "widen")
    assert finding(found, "sigma_pt") == pytest.approx(math.hypot(10, S_SAM))
    assert first_score(found) == pytest.approx(-11.9 / math.hypot(10, S_SAM))
    assert "as declared beforehand: homogeneity is not sufficient" in remarks(found)


def test_unlike_units_refuse_the_scores(tmp_path) -> None:
    found = round_on(tmp_path, UNLIKE, "refuse")
    assert first_score(found) is None and "No scores: homogeneity is not sufficient" in remarks(found)


def test_unlike_units_are_carried_into_the_assigned_value(tmp_path) -> None:
    """u_hom is s_sam here; one occasion, so that there is no u_stab."""
    found = round_on(tmp_path, UNLIKE, "carry")
    own = 1.25 * finding(found, "robust_sd") / math.sqrt(15)
    assert finding(found, "u_assigned") == pytest.approx(math.hypot(own, S_SAM))
    assert finding(found, "sigma_pt") == 10 and first_score(found) == pytest.approx(-1.19)


@pytest.mark.parametrize("declared", ["widen", "refuse"])
def test_where_nothing_is_shown_either_way_sigma_is_widened_and_nothing_refused(tmp_path, declared) -> None:
    found = round_on(tmp_path, OPEN, declared, sigma=5)
    assert finding(found, "sigma_pt") == pytest.approx(math.hypot(5, S_SAM_OPEN))
    assert first_score(found) == pytest.approx(-11.9 / math.hypot(5, S_SAM_OPEN))


def test_units_alike_for_a_wider_sigma_are_held_against_that_of_the_round(tmp_path) -> None:
    """The study's σ_pt of 100 lets s_sam 5.09 pass; of the round's 10 it is half."""
    found = round_on(tmp_path, UNLIKE, "widen", sigma_of_units=100)
    assert finding(found, "sigma_pt") == pytest.approx(math.hypot(10, S_SAM))
    assert "of the σ_pt of this round s_sam is 0.51" in remarks(found)


def test_a_material_that_changed_is_told_and_refuses_scores_where_that_was_declared(tmp_path) -> None:
    for declared, z in (("widen", pytest.approx(-1.19)), ("refuse", None)):
        folder = tmp_path / declared
        folder.mkdir()
        found = round_on(folder, ALIKE, declared, later=CHANGED)
        assert first_score(found) == z
        assert "results of different dates do not compare" in remarks(found)


def test_what_a_change_leaves_uncertain_is_carried_although_units_are_alike(tmp_path) -> None:
    found = round_on(tmp_path, ALIKE, "carry", later=CHANGED)
    working = found.as_reported.finding("u_assigned", "A").working
    carried = {symbol.name: symbol.value for symbol in working.symbols if symbol.name in ("u_hom", "u_stab")}
    assert min(carried.values()) > 0
    own = 1.25 * finding(found, "robust_sd") / math.sqrt(15)
    assert finding(found, "u_assigned") == pytest.approx(math.hypot(own, *carried.values()))


def test_the_spread_of_the_units_is_converted_to_the_unit_of_the_scores(tmp_path) -> None:
    second = "    measurands: {deoxynivalenol: {unit: mg/kg, sigma_pt: {by: prescribed, value: 0.01, source: test}}}\n"
    folder = folder_of(tmp_path, UNLIKE, "widen", second=second)
    lines = [f"{code},deoxynivalenol,A,{x / 1000:.5f},mg/kg" for code, (x,) in RESULTS.items()]
    (folder / "results.csv").write_text("\n".join(["laboratory,measurand,sample,result,unit", *lines]) + "\n")
    study = _evaluated(folder)
    (sigma,) = (f.value for f in study.as_reported.findings if f.name == "sigma_pt")
    assert sigma == pytest.approx(math.hypot(10, S_SAM) / 1000)


def test_a_study_that_is_not_there_is_refused_at_its_name(tmp_path) -> None:
    told = problems(folder_of(tmp_path, ALIKE, "widen", study="unit"))
    assert (
        "protocol.yaml:20:25" in told["round-no-such-material"] and "there is: units" in told["round-no-such-material"]
    )


def test_two_consequences_for_one_material_are_refused(tmp_path) -> None:
    folder = folder_of(tmp_path, ALIKE, "widen")
    text = (folder / "protocol.yaml").read_text(encoding="utf-8")
    head, tail = text.rsplit("when_not_sufficient: widen", 1)
    (folder / "protocol.yaml").write_text(f"{head}when_not_sufficient: refuse{tail}", encoding="utf-8")
    assert 'the round says widen, study "units" says refuse' in problems(folder)["round-two-consequences"]
