"""Figures of constructed trials: what stands out, with and without, split levels, HorRat, verdicts."""

from __future__ import annotations

import math

import pytest

from tests.working import recompute
from validate.stats import horwitz
from validate.studies.collaborative_trial.tests.trial_bench import (
    SOUND,
    evaluated,
    result,
    rows_of,
    table,
    value,
)
from validate.vocabulary.verdict import Verdict

SPLIT = "{kind: split, levels: [50]}"
FIRST, SECOND = [50, 52, 48, 51, 49, 50, 53, 47], [55, 58, 53, 56, 53, 56, 57, 53]


def split_rows() -> list[str]:
    return [
        f"{chr(65 + i)},50,{s},{x}"
        for i, pair in enumerate(zip(FIRST, SECOND, strict=True))
        for s, x in zip("XY", pair, strict=True)
    ]


def test_an_outlier_is_flagged_and_every_figure_stands_with_and_without_it(tmp_path) -> None:
    found = result(tmp_path, rows_of([*SOUND, [70, 71]]))
    rows = table(found, "flagged").rows
    assert [row[1] for row in rows] == ["all results", "without outliers (I)"]
    assert (rows[0][2], rows[1][2]) == (9, 8)
    assert value(found, "s_reproducibility") == pytest.approx(rows[0][7])
    (flag,) = (r for r in found.remarks if r.kind == "flag")
    assert "Grubbs, highest: laboratory I, outlier (1 %)" in flag.text and flag.rows == "18-19"


def test_limits_and_relative_figures_stand_with_and_without_an_outlier_too(tmp_path) -> None:
    """The line of all results is that of the findings, the other that of a trial without laboratory I."""
    every = result(tmp_path, rows_of([*SOUND, [70, 71]]))
    sound = result(tmp_path, rows_of(SOUND))
    names = ("s_r", "s_L", "s_reproducibility", "r", "R")
    for row, found in zip(table(every, "flagged_limits").rows, (every, sound), strict=True):
        shown = [found.finding(name, "50").interval("shown") for name in names]
        assert row[2:] == pytest.approx([end for each in shown for end in (each.low, each.high)])
    horrats = ("horrat_R_horwitz", "horrat_R_thompson", "horrat_r-over-PRSD_R_horwitz-aoac")
    for row, found in zip(table(every, "flagged_relative").rows, (every, sound), strict=True):
        assert row[2:] == pytest.approx([value(found, n) for n in ("rsd_r", "rsd_reproducibility", *horrats)])


def test_the_dependence_on_the_level_stands_with_and_without_outliers_of_single_levels(tmp_path) -> None:
    """An outlier at one of three levels: the other two keep their figures, and so does the form of s_r."""

    def levels(*outlier: list[int]) -> list[str]:
        cells = {k: [[x * k for x in cell] for cell in SOUND] for k in (1, 2, 3)}
        cells[2] += outlier
        return [row for k, several in cells.items() for row in rows_of(several, str(50 * k))]

    design = "{levels: [50, 100, 150]}"
    forms = table(result(tmp_path, levels([140, 142]), design), "flagged_forms").rows
    clean = table(result(tmp_path, levels(), design), "forms").rows
    assert [row[0] for row in forms] == ["all results"] * 6 + ["without outliers"] * 6
    without = [row[1:] for row in forms[6:]]
    assert [row[:2] for row in without] == [row[:2] for row in clean]
    assert [row[2:] for row in without] == [pytest.approx(row[2:], abs=1e-9) for row in clean]
    assert forms[3][4] != pytest.approx(without[3][3])


def test_a_straggler_stays_in_the_line_without_outliers_and_leaves_the_one_without_all_flagged(tmp_path) -> None:
    """By hand: the variance of J is 8, of the nine others 0.5: C = 8/12.5 = 0.64, between 0.602 and 0.718."""
    rows = table(result(tmp_path, rows_of([*SOUND, [70, 71], [49, 53]])), "flagged").rows
    assert [row[1] for row in rows] == ["all results", "without outliers (I)", "without all flagged (J, I)"]
    assert [row[2] for row in rows] == [10, 9, 8]


def test_runs_keep_their_standard_deviation_in_the_figures_with_and_without(tmp_path) -> None:
    cells = [*SOUND, [90, 91]]
    rows = [f"{chr(65 + i)},50,{k},{x + k % 2}" for i, cell in enumerate(cells) for k in (1, 2) for x in cell]
    found = result(tmp_path, rows, "{levels: [50], runs: 2}", header="laboratory,level,run,result")
    figures, limits = table(found, "flagged"), table(found, "flagged_limits")
    assert [c.title for c in figures.columns][4:8] == ["mean", "s_r", "s_I", "s_L"]
    assert figures.rows[0][6] == pytest.approx(value(found, "s_intermediate"))
    shown = found.finding("s_intermediate", "50").interval("shown")
    assert limits.rows[0][4:6] == pytest.approx((shown.low, shown.high))


def test_laboratories_that_differ_less_than_their_replicates_have_no_component_and_are_told(tmp_path) -> None:
    """Means of all laboratories 50, replicates ±1: MS_b = 0, MS_w = 2, so the estimate is −1."""
    found = result(tmp_path, rows_of([[49, 51]] * 8))
    assert value(found, "s_L") == 0 and "−1" in found.finding("s_L", "50").notes[0]
    assert value(found, "s_reproducibility") == value(found, "s_r") == pytest.approx(math.sqrt(2))
    assert any("s_L counts as 0, s_R equals s_r" in remark.text for remark in found.remarks)


def test_not_met_needs_a_lower_limit_that_neither_method_exceeds(tmp_path) -> None:
    """One comparison, both at 90 %: the interval for `not met` takes the lower of MLS and Satterthwaite."""
    wide = [[50 + a + 1, 50 + a - 1] for a in (-2, -1, -1, 0, 0, 1, 1, 2)]
    found = result(tmp_path, rows_of(wide)).finding("s_reproducibility", "50")
    met, not_met = found.interval("met"), found.interval("not_met")
    assert (met.level, not_met.level) == (0.90, pytest.approx(0.90))
    assert not_met.low < met.low and not_met.high == pytest.approx(met.high)


def test_the_scatter_between_four_laboratories_gets_no_verdict(tmp_path) -> None:
    accept = "{s_L: {at_most: 25, judge_by: estimate, source: own, reason: test}}"
    (few,) = evaluated(tmp_path, rows_of(SOUND[:4]), accept=accept).requirements
    (enough,) = evaluated(tmp_path, rows_of(SOUND[:5]), accept=accept).requirements
    assert few.as_reported.verdict is Verdict.NOT_SHOWN and "fewer than 5 laboratories" in few.as_reported.reason
    assert enough.as_reported.verdict is Verdict.MET


def test_an_exclusion_with_a_reason_changes_the_figures_as_reported_only(tmp_path) -> None:
    rows = rows_of([*SOUND, [70, 71]])
    exclusion = "{data: trial.csv, where: {laboratory: I}, by: A. Example, on: 2031-02-05, reason: wrong dilution}"
    (study,) = evaluated(tmp_path, rows, horrat=f"[]\nexclusions: [{exclusion}]").studies
    recorded, reported = study.as_recorded.finding("R", "50").value, study.as_reported.finding("R", "50").value
    assert reported < recorded / 2
    assert all(t.name != "flagged" for t in study.as_reported.tables)


def test_split_levels_give_the_figures_of_their_differences_and_averages(tmp_path) -> None:
    """By hand: D = y − x: 5, 6, 5, 5, 4, 6, 4, 6; averages 52.5, 55, 50.5, 53.5, 51, 53, 55, 50."""
    found = result(tmp_path, split_rows(), SPLIT, header="laboratory,level,sample,result")
    d, y = [5, 6, 5, 5, 4, 6, 4, 6], [52.5, 55, 50.5, 53.5, 51, 53, 55, 50]
    var_d = sum((x - sum(d) / 8) ** 2 for x in d) / 7
    var_y = sum((x - sum(y) / 8) ** 2 for x in y) / 7
    assert value(found, "s_r") == pytest.approx(math.sqrt(var_d / 2))
    assert value(found, "s_reproducibility") == pytest.approx(math.sqrt(var_y + var_d / 4))
    assert {row[1].split(", ")[-1] for row in table(found, "screening").rows} == {"averages", "differences"}
    assert any(plot.name == "pairs-50" for plot in found.plots)


def test_a_split_level_prints_no_columns_of_what_it_cannot_know(tmp_path) -> None:
    found = result(tmp_path, split_rows(), SPLIT, header="laboratory,level,sample,result")
    titles = [column.title for column in table(found, "consistency").columns]
    assert titles == ["level", "laboratory", "n", "mean", "h", "beyond"]
    assert all(len(row) == len(titles) for row in table(found, "consistency").rows)


def test_equal_proportions_of_laboratories_do_not_hide_each_other(tmp_path) -> None:
    rows = [f"{lab},50,6,12" for lab in "ABCDEF"]
    found = result(tmp_path, rows, "{kind: binary, levels: [50]}", header="laboratory,level,positive,total")
    (plot,) = found.plots
    dots, whiskers = plot.layers
    assert len(set(dots.x)) == 6 and not set(dots.x) & set(whiskers.x)


def test_a_laboratory_with_one_of_two_samples_is_left_out_and_told(tmp_path) -> None:
    found = result(tmp_path, [*split_rows(), "I,50,X,51"], SPLIT, header="laboratory,level,sample,result")
    assert found.finding("s_r", "50").n == 16
    assert any("one of the two samples only: I" in r.text for r in found.remarks)


def test_duplicates_are_drawn_as_youden_pairs(tmp_path) -> None:
    assert {"pairs-50", "mandel_h", "mandel_k", "results-50"} <= {
        p.name for p in result(tmp_path, rows_of(SOUND)).plots
    }


def test_horrat_is_that_of_the_general_mean_and_its_form(tmp_path) -> None:
    found = result(tmp_path, rows_of(SOUND))
    rsd, mean = value(found, "rsd_reproducibility"), value(found, "mean")
    expected = horwitz.horrat(rsd, mean * 1e-9, model="horwitz", kind="R")
    assert value(found, "horrat_R_horwitz") == pytest.approx(expected)


def test_horrat_is_not_given_for_a_measurand_defined_by_its_method(tmp_path) -> None:
    found = result(tmp_path, rows_of(SOUND), method=", defined_by_method: yes")
    assert "defined by the method" in found.finding("horrat_R_horwitz", "50").reason


def test_three_levels_give_the_three_forms_and_two_do_not(tmp_path) -> None:
    def levels(*names: int) -> list[str]:
        return [row for k in names for row in rows_of([[x * k for x in cell] for cell in SOUND], str(50 * k))]

    three = result(tmp_path, levels(1, 2, 3), "{levels: [50, 100, 150]}")
    rows = table(three, "forms").rows
    assert [row[1] for row in rows] == ["s = b·m", "s = a + b·m", "lg s = c + d·lg m"] * 2
    # Every result is proportional to the level, so the proportional form fits without misfit.
    assert rows[0][3] == pytest.approx(value(three, "s_r") / value(three, "mean")) and rows[0][4] < 1e-9
    two = result(tmp_path, levels(1, 2), "{levels: [50, 100]}")
    assert all(t.name != "forms" for t in two.tables)


def test_seven_laboratories_give_no_verdict_on_reproducibility(tmp_path) -> None:
    accept = "{rsd_reproducibility: {at_most: 25, judge_by: estimate, source: own, reason: test}}"
    (few,) = evaluated(tmp_path, rows_of(SOUND[:7]), accept=accept).requirements
    (enough,) = evaluated(tmp_path, rows_of(SOUND), accept=accept).requirements
    assert few.as_reported.verdict is Verdict.NOT_SHOWN and "at least 8" in few.as_reported.reason
    assert enough.as_reported.verdict is Verdict.MET


@pytest.mark.parametrize("kind", ["uniform", "split", "binary", "runs"])
def test_every_working_gives_its_finding(tmp_path, kind) -> None:
    if kind == "split":
        found = result(tmp_path, split_rows(), SPLIT, header="laboratory,level,sample,result")
    elif kind == "binary":
        rows = [f"{chr(65 + i)},50,{x},12" for i, x in enumerate((7, 9, 6, 10, 5, 7))]
        found = result(tmp_path, rows, "{kind: binary, levels: [50]}", header="laboratory,level,positive,total")
    elif kind == "runs":
        rows = [f"{chr(65 + i)},50,{k},{x + i % 3 + k}" for i, cell in enumerate(SOUND) for k in (1, 2) for x in cell]
        found = result(tmp_path, rows, "{levels: [50], runs: 2}", header="laboratory,level,run,result")
    else:
        found = result(tmp_path, rows_of(SOUND))
    worked = [f for f in found.findings if f.working is not None]
    assert len(worked) >= 4
    for finding in worked:
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-9, abs=1e-12), finding.name


def test_the_order_of_the_rows_changes_no_figure(tmp_path) -> None:
    rows = rows_of([*SOUND, [70, 71]])
    one, two = (result(tmp_path, some).findings for some in (rows, rows[::-1]))
    assert [f.value for f in two] == pytest.approx([f.value for f in one], rel=1e-12)


def test_a_missing_cell_leaves_its_level_to_the_other_laboratories_and_the_other_levels_alone(tmp_path) -> None:
    rows = rows_of(SOUND) + rows_of([[2 * x for x in cell] for cell in SOUND], "100")
    design = "{levels: [50, 100], laboratories: 8}"
    whole = result(tmp_path, rows, design)
    gap = result(tmp_path, [row for row in rows if not row.startswith("C,100")], design)
    seven = result(tmp_path, rows_of([cell for i, cell in enumerate(SOUND) if i != 2]))
    assert value(gap, "s_reproducibility", "50") == value(whole, "s_reproducibility", "50")
    assert value(gap, "s_reproducibility", "100") == pytest.approx(2 * value(seven, "s_reproducibility"))
    (fact,) = (fact for fact in gap.design if fact.name == "laboratories at each level")
    assert fact.carried_out == "7 to 8" and fact.short
    assert any("7 laboratories at 100; 8 with valid results" in remark.text for remark in gap.remarks)


def test_two_laboratories_have_figures_but_no_tests_and_no_h(tmp_path) -> None:
    """By hand: means 50.5 and 51.5, D = 1: MS_w 0.5, MS_b 1, s_L² = 0.25."""
    found = result(tmp_path, rows_of(SOUND[:2]))
    assert value(found, "s_L") == pytest.approx(0.5) and value(found, "s_r") == pytest.approx(math.sqrt(0.5))
    assert {row[-1] for row in table(found, "screening").rows} == {
        "not tested: fewer than 3 laboratories with a second result",
        "not tested: fewer than 3 laboratories",
    }
    assert {row[5] for row in table(found, "consistency").rows} == {None}


def test_renaming_the_laboratories_changes_names_and_nothing_else(tmp_path) -> None:
    rows = rows_of([*SOUND, [70, 71]])
    renamed = [f"{chr(90 - ord(row[0]) + 65)}{row[1:]}" for row in rows]
    one, two = result(tmp_path, rows), result(tmp_path, renamed)
    assert [f.value for f in two.findings] == pytest.approx([f.value for f in one.findings], rel=1e-12)
    assert table(two, "flagged").rows[1][1] == "without outliers (R)"
