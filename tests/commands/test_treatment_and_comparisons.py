"""What the pipeline hands on: comparisons of a study, data as recorded and as reported, lifted exclusions."""

import shutil
from pathlib import Path

import pytest

from validate.pipeline import evaluate, prepare

EXAMPLE = Path(__file__).parents[2] / "validate" / "studies" / "recovery" / "example"
MEAN = (951 + 918 + 1004 + 973 + 889 + 942) / 6


@pytest.fixture
def evaluated(tmp_path):
    def run(more: str = ""):
        shutil.copytree(EXAMPLE, tmp_path / "example")
        protocol = tmp_path / "example" / "protocol.yaml"
        protocol.write_text(protocol.read_text("utf-8") + more, "utf-8")
        return evaluate(prepare(tmp_path / "example"))

    return run


def exclusion(sample: int) -> str:
    return (
        f"  - data: recovery.csv\n    where: {{sample: {sample}}}\n    by: A. Example\n"
        "    on: 2031-02-13\n    reason: column ran dry\n"
    )


def recovery(result) -> float:
    return result.finding("mean_recovery", "1000").value


def test_not_met_is_shared_among_all_comparisons_of_the_study(evaluated):
    """Two criteria at one level: 1 − 2·0.05/2; `met` is not shared."""
    found = evaluated().studies[0].as_reported.finding("rsd_r", "1000")
    assert found.interval("not_met").level == pytest.approx(0.95)
    assert found.interval("met").level == pytest.approx(0.90)


def test_an_exclusion_changes_the_figures_as_reported_only(evaluated):
    study = evaluated("exclusions:\n" + exclusion(1)).studies[0]
    assert recovery(study.as_recorded) == pytest.approx(100 * (MEAN - 40) / 1000)
    days = (918 + (1004 + 973) / 2 + (889 + 942) / 2) / 3
    assert recovery(study.as_reported) == pytest.approx(100 * (days - 40) / 1000)


def test_each_exclusion_is_lifted_by_itself(evaluated):
    """Five results are needed: with two of six excluded nothing is shown, with either one back something is."""
    evaluation = evaluated("exclusions:\n" + exclusion(1) + exclusion(3))
    assert [line.exclusion for line in evaluation.left_one_out] == [1, 2]
    for line in evaluation.left_one_out:
        assert "recovery/rsd_r@1000: not shown → met" in line.changed


def test_lifting_an_exclusion_brings_back_its_own_rows(evaluated):
    """Excluding a blunder and a sound result: only the blunder's return spoils the verdict."""
    blunder = (
        "amendments:\n  - data: recovery.csv\n    where: {sample: 3}\n    column: found\n    old: 1004\n    new: 5004\n"
    )
    blunder += "    by: A. Example\n    on: 2031-02-13\n    reason: constructed\n"
    evaluation = evaluated(blunder + "exclusions:\n" + exclusion(6) + exclusion(3))
    sound, spoiled = evaluation.left_one_out
    assert "recovery/mean_recovery@1000: not shown → met" in sound.changed
    assert "recovery/mean_recovery@1000: not shown → not met" in spoiled.changed
