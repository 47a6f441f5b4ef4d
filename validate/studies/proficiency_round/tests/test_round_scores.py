"""Scores, assigned values and scales of a round, from the table to the verdict."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tests.working import recompute
from validate.pipeline import evaluate, prepare
from validate.provenance.evaluation_file import evaluation_bytes
from validate.stats import proficiency, robust
from validate.studies.proficiency_round.history import Past, history_tables
from validate.studies.proficiency_round.tests.round_bench import long_table, remarks, round_of, scores, written

STATED = """    samples: [A]
    assigned_value: {by: certified value, value: 10.0, u: 0.3125, source: constructed}
    sigma_pt: {by: prescribed, value: 0.8, source: constructed}
"""
RNG = np.random.default_rng(20310303)
MANY = {f"L{i:02d}": [f"{x:.2f}"] for i, x in enumerate(RNG.normal(100, 8, 30), start=1)}


def finding(study, name, level="A"):
    return study.as_reported.finding(name, level)


def test_every_score_of_the_constructed_example_reaches_the_table(tmp_path):
    """x 12.0, x_pt 10.0, σ_pt 0.8, u(x_pt) 0.3125, u(x) 0.6 (U 1.2, k 2)."""
    table = "laboratory,sample,result,uncertainty,k\nL1,A,12.0,1.2,2\nL2,A,10.1,,\n"
    line = scores(round_of(written(tmp_path, table, STATED)))["L1", "A"]
    assert line["D"] == 2 and line["D %"] == pytest.approx(20)
    assert line["z"] == pytest.approx(2.5)
    assert line["z′"] == pytest.approx(2.32864, abs=5e-6)
    assert line["ζ"] == pytest.approx(2.95638, abs=5e-6)
    assert line["E_n"] == pytest.approx(1.47819, abs=5e-6)


def test_an_uncertain_independent_value_is_classified_by_z_prime(tmp_path):
    """u is 0.39 σ_pt: a result at z = 3.2 is z′ = 2.98, a warning and no action signal."""
    study = round_of(written(tmp_path, long_table({"L1": [12.56], "L2": [10.1]}), STATED))
    assert scores(study)["L1", "A"]["outcome"] == "warning signal"
    assert "z′, which allows for it, classifies" in remarks(study)


def test_a_consensus_has_its_value_uncertainty_and_scores_from_algorithm_a(tmp_path):
    study = round_of(written(tmp_path, long_table(MANY)))
    x = [float(v[0]) for v in MANY.values()]
    star = robust.algorithm_a(x)
    assert finding(study, "assigned_value").value == pytest.approx(star.mean, rel=1e-12)
    assert finding(study, "u_assigned").value == pytest.approx(1.25 * star.sd / 30**0.5, rel=1e-12)
    found = scores(study)
    for code, (value,) in MANY.items():
        assert found[code, "A"]["z"] == pytest.approx((float(value) - star.mean) / 10, rel=1e-9, abs=1e-9)


def test_every_working_gives_its_finding(tmp_path):
    study = round_of(written(tmp_path, long_table(MANY)))
    checked = 0
    for each in study.as_reported.findings:
        if each.working and each.value is not None:
            assert recompute(each.working) == pytest.approx(each.value, rel=1e-12)
            checked += 1
    assert checked == 3


def test_the_spread_of_the_round_scores_only_with_a_warning(tmp_path):
    settings = "    samples: [A]\n    assigned_value: {by: algorithm A}\n    sigma_pt: {by: this round}\n"
    study = round_of(written(tmp_path, long_table(MANY), settings))
    assert finding(study, "sigma_pt").value == pytest.approx(finding(study, "robust_sd").value)
    assert "σ_pt is the spread of this very round" in remarks(study)


def test_the_spread_of_eleven_laboratories_is_no_sigma(tmp_path):
    settings = "    samples: [A]\n    assigned_value: {by: algorithm A}\n    sigma_pt: {by: this round}\n"
    study = round_of(written(tmp_path, long_table(dict(list(MANY.items())[:11])), settings))
    assert finding(study, "sigma_pt").value is None
    assert "fewer than 12" in finding(study, "sigma_pt").reason
    assert all(line["z"] is None for line in scores(study).values())


@pytest.mark.parametrize(
    ("by", "expected"),
    [("horwitz", 100e-9 * 2 ** (1 - 0.5 * np.log10(100e-9)) / 100 / 1e-9), ("thompson", 22.0)],
)
def test_a_predicted_sigma_is_that_of_the_mass_fraction(tmp_path, by, expected):
    settings = f"""    samples: [A]
    assigned_value: {{by: formulation, value: 100, u: 1, source: test}}
    sigma_pt: {{by: {by}}}
"""
    study = round_of(written(tmp_path, long_table(MANY), settings))
    assert finding(study, "sigma_pt").value == pytest.approx(expected, rel=1e-9)


def test_a_precision_experiment_gives_sigma_for_averaged_results(tmp_path):
    settings = """    samples: [A]
    assigned_value: {by: algorithm A}
    sigma_pt: {by: precision experiment, s_R: 10, s_r: 6, replicates: 2, source: test}
"""
    study = round_of(written(tmp_path, long_table(MANY), settings))
    assert finding(study, "sigma_pt").value == pytest.approx((100 - 36 / 2) ** 0.5)


def test_expert_laboratories_give_mean_and_standard_error(tmp_path):
    settings = """    samples: [A]
    assigned_value: {by: expert laboratories, results: [98, 100, 102], source: test}
    sigma_pt: {by: prescribed, value: 10, source: test}
"""
    study = round_of(written(tmp_path, long_table(MANY), settings))
    assert finding(study, "assigned_value").value == 100
    assert finding(study, "u_assigned").value == pytest.approx(2 / 3**0.5)


def test_every_consensus_that_can_be_computed_stands_beside_the_declared_one(tmp_path):
    study = round_of(written(tmp_path, long_table(MANY)))
    table = next(t for t in study.as_reported.tables if t.name == "side-by-side")
    found = {row[1]: row[2] for row in table.rows}
    x = [float(v[0]) for v in MANY.values()]
    assert found["median, MADe"] == np.median(x)
    assert found["Q method"] == pytest.approx(robust.q_method(x).mean)
    assert found["kernel mode"] == pytest.approx(proficiency.consensus_modes(x, 10, seed=1).modes[0].location)
    assert set(found) == {"algorithm A (used)", "Q method", "median, MADe", "median, nIQR", "kernel mode"}


def test_replicates_are_averaged_and_another_unit_is_converted(tmp_path):
    table = "laboratory,sample,replicate,result,unit\nL1,A,1,9.0,\nL1,A,2,11.0,\nL2,A,1,0.012,mg/kg\n"
    study = round_of(written(tmp_path, table, STATED))
    assert scores(study)["L1", "A"]["result"] == 10
    assert scores(study)["L2", "A"]["result"] == pytest.approx(12, rel=1e-12)
    assert "another unit (mg/kg)" in remarks(study)


def test_a_wide_table_gives_what_the_long_one_gives(tmp_path):
    long, wide = tmp_path / "long", tmp_path / "wide"
    long.mkdir(), wide.mkdir()
    settings = """    samples: [A, B]
    assigned_value: {by: algorithm A}
    sigma_pt: {by: prescribed, percent: 10, source: test}
"""
    pairs = {code: [v[0], str(2 * float(v[0]))] for code, v in MANY.items()}
    table = "laboratory,A,U A,B\n" + "".join(f"{code},{a},8,{b}\n" for code, (a, b) in pairs.items())
    lines = ["laboratory,sample,result,uncertainty"]
    for code, (a, b) in pairs.items():
        lines += [f"{code},A,{a},8", f"{code},B,{b},"]
    one = round_of(written(long, "\n".join(lines) + "\n", settings))
    two = round_of(written(wide, table, "    layout: wide\n" + settings))
    assert scores(one) == scores(two)


def test_codes_are_only_names_a_permutation_of_them_permutes_the_scores_and_nothing_else(tmp_path):
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir(), two.mkdir()
    codes = list(MANY)
    renamed = dict(zip(codes, [codes[i] for i in np.random.default_rng(1).permutation(len(codes))], strict=True))
    before = round_of(written(one, long_table(MANY)))
    after = round_of(written(two, long_table({renamed[code]: v for code, v in MANY.items()})))
    figures = [{f.name: f.value for f in study.as_reported.findings} for study in (before, after)]
    assert figures[0] == pytest.approx(figures[1], rel=1e-13)
    first, second = scores(before), scores(after)
    for code in codes:
        assert first[code, "A"]["z"] == pytest.approx(second[renamed[code], "A"]["z"], rel=1e-12, abs=1e-12)


def test_the_order_of_rows_changes_no_byte_of_the_results(tmp_path):
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir(), two.mkdir()
    head, *lines = long_table(MANY).splitlines()
    found = []
    for folder, rows in ((one, lines), (two, lines[::-1])):
        study = round_of(written(folder, "\n".join([head, *rows]) + "\n"))
        found.append((study.as_reported.tables, study.as_reported.plots, study.as_reported.remarks))
    assert found[0] == found[1]


def test_a_goal_for_the_uncertainty_of_x_pt_is_judged_for_each_target(tmp_path):
    goal = """    accept:
      u_ratio: {per: level, at_most: 0.3, judge_by: estimate, source: own, reason: goal}
"""
    evaluation = evaluate(prepare(written(tmp_path, long_table(MANY), STATED + goal)))
    (requirement,) = evaluation.requirements
    assert requirement.criterion.level == "A"
    assert requirement.as_reported.verdict == "not met"
    assert not evaluation.gaps


def test_earlier_rounds_stand_beside_this_one_and_are_summed_with_a_warning(tmp_path):
    earlier, now = tmp_path / "earlier", tmp_path / "now"
    earlier.mkdir(), now.mkdir()
    settings = """    samples: [A, B, C]
    assigned_value: {by: formulation, value: 100, u: 1, source: test}
    sigma_pt: {by: prescribed, value: 10, source: test}
"""
    past = evaluate(
        prepare(written(earlier, long_table({"L01": [110, 120, 90], "L02": [100, 100, 100]}, "A", "B", "C"), settings))
    )
    content = evaluation_bytes(past)
    (now / "past.json").write_bytes(content.replace(b"T-1", b"T-0"))
    assert json.loads(content)["format"] == 1
    study = round_of(
        written(
            now,
            long_table(MANY),
            "    earlier_rounds: [past.json]\n    samples: [A]\n"
            "    assigned_value: {by: algorithm A}\n    sigma_pt: {by: prescribed, value: 10, source: test}\n",
        )
    )
    tables = {t.name: t for t in study.as_reported.tables}
    assert tables["history"].rows[0] == ("L01", "T-0", "A", 1.0, "acceptable")
    assert tables["sums"].rows[0] == ("L01", 3, pytest.approx(2 / 3**0.5), pytest.approx(6))
    assert tables["sums"].note.startswith("A warning")


def test_scores_of_different_measurands_are_not_added_up():
    past = tuple(Past(f"R{i}", "L1", target, z, "acceptable")
                 for i in range(3) for target, z in (("DON, S1", 1.0), ("ZEN, S1", -1.0)))  # fmt: skip
    sums = {t.name: t for t in history_tables(past, ("L1",))}["sums"]
    assert [row[:2] for row in sums.rows] == [("L1", "DON"), ("L1", "ZEN")]
    assert [row[3] for row in sums.rows] == pytest.approx([3**0.5, -(3**0.5)])


def test_two_earlier_scores_are_not_added_up():
    past = tuple(Past(f"R{i}", "L1", "S1", 1.0, "acceptable") for i in range(2))
    assert [t.name for t in history_tables(past, ("L1",))] == ["history"]
