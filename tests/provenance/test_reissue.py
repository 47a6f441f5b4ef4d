"""A dossier that supersedes another says what changed; a value never changes without an amendment."""

from pathlib import Path

import pytest

from tests.provenance.small import write_small
from validate.cli import main
from validate.pipeline import evaluate, prepare, render

SUPERSEDES = (
    "supersedes: {title: 'SMALL-01, edition 1', reason: a value was read again, "
    "manifest: earlier/manifest.json, evaluation: earlier/evaluation.json}\nstudies:"
)
AMENDED = (
    "amendments: [{data: recovery.csv, where: {sample: R-2}, column: found, old: 4.9, new: 4.6, by: A. Example, "
    "on: 2031-03-12, reason: misread}]\nstudies:"
)


@pytest.fixture
def protocol(tmp_path, small) -> Path:
    """The small protocol with its earlier dossier in a folder beside it."""
    folder = write_small(tmp_path / "protocol")
    (folder / "earlier").mkdir()
    for name in ("manifest.json", "evaluation.json"):
        (folder / "earlier" / name).write_bytes(small[name])
    change(folder / "protocol.yaml", "studies:", SUPERSEDES)
    return folder


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


def codes(protocol: Path) -> list[str]:
    return [problem.code for problem in prepare(protocol).problems if problem.severity == "error"]


def page(protocol: Path) -> str:
    prepared = prepare(protocol)
    return render(prepared, evaluate(prepared), with_pdf=False).files["dossier.html"].decode()


def test_reissue_without_a_change_says_that_all_is_the_same(protocol):
    reissue = evaluate(prepare(protocol)).reissue
    assert (reissue.compared > 5, reissue.figures, reissue.files) == (True, (), ())
    assert "findings that both have are the same, and so are their verdicts" in page(protocol)


def test_amendment_lists_every_changed_finding_before_and_after(protocol):
    change(protocol / "protocol.yaml", "studies:", AMENDED)
    figures = {item.finding: item for item in evaluate(prepare(protocol)).reissue.figures}
    assert figures["mean_recovery"].before == pytest.approx(100 * (4.6 + 4.9 + 4.4) / 15)
    assert figures["mean_recovery"].after == pytest.approx(100 * (4.6 + 4.6 + 4.4) / 15)
    text = page(protocol)
    assert "Findings and verdicts that differ from the superseded dossier" in text and "92.67" in text


def test_changed_verdict_of_an_unchanged_figure_is_listed(protocol):
    change(
        protocol / "protocol.yaml", "rsd_r: {per: level}",
        "rsd_r: {per: level, minimum_n: 3, at_most: 20, judge_by: estimate, source: own, reason: x, "
        "overrides: eu-2023-2782}",
    )  # fmt: skip
    [figure] = evaluate(prepare(protocol)).reissue.figures
    assert (figure.finding, figure.verdict_before, figure.verdict_after) == ("rsd_r", "not shown", "met")


def test_value_changed_in_the_table_without_an_amendment_is_refused(protocol, capsys):
    change(protocol / "recovery.csv", "4.9", "4.6")
    assert main(["check", str(protocol)]) == 2
    told = capsys.readouterr().err
    assert "recovery.csv is not as it was when the superseded dossier was made" in told and "amendments" in told


@pytest.mark.parametrize(
    ("old", "new"),
    [("R-3,5,4.4\n", ""), ("R-1,5,4.6\n", ""), ("\n", "\r\n"), ("R-1", "r-1"), ("R-3,5,4.4\n", "R-3,5,4.4  \n")],
    ids=["row removed at the end", "row removed", "line ends", "name", "spaces"],
)
def test_any_other_bytes_than_the_recorded_ones_are_refused(protocol, old, new):
    content = (protocol / "recovery.csv").read_bytes()
    (protocol / "recovery.csv").write_bytes(content.replace(old.encode(), new.encode()))
    assert "superseded-table-changed" in codes(protocol)


def test_rows_added_after_the_earlier_ones_are_accepted_and_told(protocol):
    with (protocol / "recovery.csv").open("a", encoding="utf-8") as table:
        table.write("R-4,5,4.7\nR-5,5,4.5\n")
    assert codes(protocol) == []
    [file] = evaluate(prepare(protocol)).reissue.files
    assert (file.name, "rows were added" in file.change) == ("recovery.csv", True)


def test_new_and_dropped_inputs_are_told(protocol):
    (protocol / "recovery.csv").rename(protocol / "renamed.csv")
    change(protocol / "protocol.yaml", "recovery.csv", "renamed.csv")
    told = {file.name: file.change for file in evaluate(prepare(protocol)).reissue.files}
    assert told == {
        "renamed.csv": "not an input of the superseded dossier",
        "recovery.csv": "an input of the superseded dossier, and none now",
    }


def test_evaluation_that_does_not_belong_to_the_manifest_is_refused(protocol):
    change(protocol / "earlier" / "evaluation.json", '"met":0', '"met":1')
    assert codes(protocol) == ["superseded-apart"]


@pytest.mark.parametrize("content", ["", "{}", "[]", "[" * 100_000, '{"format":2}', '{"format":1,"studies":[1]}'])
@pytest.mark.parametrize("name", ["manifest.json", "evaluation.json"])
def test_what_is_no_manifest_or_evaluation_is_refused(protocol, name, content):
    (protocol / "earlier" / name).write_text(content, "utf-8")
    assert codes(protocol) == ["superseded-unreadable"]


def test_missing_file_is_told_at_its_key(protocol, capsys):
    (protocol / "earlier" / "manifest.json").unlink()
    assert main(["check", str(protocol)]) == 2
    assert f"{protocol}/protocol.yaml:" in capsys.readouterr().err


def test_bare_title_stays_a_title(protocol):
    change(protocol / "protocol.yaml", SUPERSEDES, "supersedes: SMALL-00\nstudies:")
    prepared = prepare(protocol)
    assert prepared.protocol.supersedes.title == "SMALL-00"
    evaluation = evaluate(prepared)
    assert evaluation.protocol["supersedes"] == "SMALL-00" and evaluation.reissue is None


def test_earlier_files_travel_and_the_reissue_recomputes(protocol, tmp_path):
    change(protocol / "protocol.yaml", "studies:", AMENDED)
    assert main(["dossier", str(protocol), "--out", str(tmp_path / "out")]) == 0
    assert main(["recompute", str(tmp_path / "out" / "dossier.pdf")]) == 0
    assert main(["recompute", str(tmp_path / "out")]) == 0


@pytest.mark.parametrize("name", ["manifest.json", "Dossier.pdf", "criteria-eu-2023-2782.toml"])
def test_input_with_the_name_of_a_dossiers_own_file_is_refused(protocol, name):
    (protocol / "earlier" / "evaluation.json").rename(protocol / name)
    change(protocol / "protocol.yaml", "earlier/evaluation.json", name)
    assert "reserved-name" in codes(protocol)
