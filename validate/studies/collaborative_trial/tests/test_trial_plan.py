"""The organiser's plan: what is sent to whom, and what the design can decide."""

from __future__ import annotations

from collections import Counter

import openpyxl
import pytest

from validate.pipeline import evaluate, prepare
from validate.pipeline.planning import plan, render_plan
from validate.studies.collaborative_trial import study
from validate.studies.collaborative_trial.settings import CollaborativeTrialSettings
from validate.studies.collaborative_trial.tests.trial_bench import write
from validate.studies.contract import Assumed, Method, PlanInput
from validate.vocabulary.bench import StudyPlan

METHOD = Method(
    measurand="deoxynivalenol", unit="µg/kg", mass_fraction_per_unit=1e-9, resolution=None, floor=None, limit=None,
    scope_from=None, scope_to=None, method_defined=False,
)  # fmt: skip


def planned(**design: object) -> StudyPlan:
    written = {key: str(value) if isinstance(value, int) else value for key, value in design.items()}
    settings = CollaborativeTrialSettings.model_validate({"kind": "collaborative_trial", "design": written})
    return study.plan(PlanInput(name="trial", settings=settings, method=METHOD, criteria=(), assumed=Assumed()))


def cells(made: StudyPlan, *roles: str) -> Counter[tuple[str, ...]]:
    return Counter(tuple(position.cells[role] for role in roles) for position in made.positions)


def test_every_laboratory_receives_every_portion_of_every_level_in_a_block_of_its_own() -> None:
    found = planned(levels=["5", "20"], laboratories=9, replicates=3)
    assert cells(found, "laboratory", "level") == {(str(i), x): 3 for i in range(1, 10) for x in ("5", "20")}
    assert {(p.day, p.cells["laboratory"]) for p in found.positions} == {(i, str(i)) for i in range(1, 10)}


def test_runs_are_blocks_within_laboratories() -> None:
    found = planned(levels=["5"], laboratories=8, runs=2, replicates=2)
    assert cells(found, "laboratory", "run") == {(str(i), r): 2 for i in range(1, 9) for r in ("1", "2")}
    assert len({p.day for p in found.positions}) == 16


def test_a_split_level_sends_one_portion_of_each_of_its_two_samples() -> None:
    found = planned(kind="split", levels=["5"], laboratories=8)
    assert cells(found, "laboratory", "sample") == {(str(i), s): 1 for i in range(1, 9) for s in ("X", "Y")}


def test_what_the_protocol_leaves_out_is_taken_and_told() -> None:
    found = planned(kind="binary", levels=["5"])
    assert len(found.positions) == 8 * 12
    assert sum("The protocol does not say" in text for text in found.told) == 2


def test_seven_laboratories_are_told_to_give_no_verdict() -> None:
    assert any("no verdict on reproducibility" in text for text in planned(levels=["5"], laboratories=7).told)
    assert not any("no verdict" in text for text in planned(levels=["5"], laboratories=8).told)


@pytest.mark.parametrize(("laboratories", "most"), [(8, "1 laboratory"), (9, "2 laboratories")])
def test_the_plan_says_how_many_laboratories_tests_could_take_out(laboratories, most) -> None:
    assert any(f"at most {most}" in text for text in planned(levels=["5"], laboratories=laboratories).told)


def test_more_laboratories_narrow_the_limits_that_the_plan_foretells() -> None:
    """γ = 1, duplicates: by hand from MLS with chi-square points on 7 and 8, or 19 and 20, degrees of freedom."""
    assert any("from 0.75 to 1.86 times" in text for text in planned(levels=["5"], laboratories=8, replicates=2).told)
    assert any("from 0.82 to 1.38 times" in text for text in planned(levels=["5"], laboratories=20, replicates=2).told)


@pytest.mark.parametrize(
    ("design", "column", "finding"),
    [
        ("{levels: [50], laboratories: 8, replicates: 2}", "result", "s_reproducibility"),
        ("{levels: [50], laboratories: 8, runs: 2, replicates: 2}", "result", "s_intermediate"),
        ("{kind: split, levels: [50], laboratories: 8}", "result", "s_reproducibility"),
        ("{kind: binary, levels: [50], laboratories: 8, replicates: 3}", "positive", "lpod"),
    ],
)
def test_the_entry_workbook_of_the_plan_filled_in_can_be_evaluated(tmp_path, design, column, finding) -> None:
    folder = write(tmp_path, [], design)
    text = (folder / "protocol.yaml").read_text(encoding="utf-8")
    without = "\n".join(line for line in text.splitlines() if "data: {file" not in line) + "\n"
    (folder / "protocol.yaml").write_text(without, encoding="utf-8")
    made = render_plan(plan(prepare(folder, with_tables=False)), with_pdf=False)
    (folder / "entry.xlsx").write_bytes(made.files["entry.xlsx"])
    book = openpyxl.load_workbook(folder / "entry.xlsx")
    sheet = book["trial"]
    titles = [str(cell.value).split(" [")[0] for cell in sheet[1]]
    for row in range(2, sheet.max_row + 1):
        lab = sheet.cell(row, titles.index("laboratory") + 1).value
        if lab is not None:
            sheet.cell(row, titles.index(column) + 1).value = (
                row % 2 if column == "positive" else 50 + int(lab) + row % 3
            )
    book.save(folder / "entry.xlsx")
    kept = without.replace("design:", "data: {file: entry.xlsx, sheet: trial}\n    design:", 1)
    (folder / "protocol.yaml").write_text(kept, encoding="utf-8")
    (found,) = evaluate(prepare(folder)).studies
    assert found.as_reported.finding(finding, "50").value is not None
