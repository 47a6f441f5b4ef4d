"""A dossier recomputes from itself alone, and every change to it is found."""

import json
import random
import re
from pathlib import Path

import pytest

from tests.provenance.forging import (
    add_attachment,
    attached,
    change_attachment,
    change_printed,
    remove_attachment,
)
from validate.cli import main
from validate.pipeline.recomputing import recompute
from validate.provenance.canonical import canonical_json
from validate.provenance.opening import NotADossier


def told(path: Path) -> str:
    return "\n".join(recompute(path).differs)


def test_pdf_alone_recomputes(pdf, capsys):
    assert main(["recompute", str(pdf)]) == 0
    out = capsys.readouterr().out
    assert "to all digits" in out and "verdicts: 2 of 2" in out and "evaluation.json: the same bytes" in out


def test_folder_recomputes_with_and_without_its_pdf(folder):
    assert recompute(folder).differs == ()
    (folder / "dossier.pdf").unlink()
    assert recompute(folder).differs == ()


def test_changed_digit_in_a_table_names_the_table_the_findings_and_both_values(pdf, capsys):
    change_attachment(pdf, "recovery.csv", lambda table: table.replace(b"4.9", b"4.8"), mend_manifest=True)
    assert main(["recompute", str(pdf)]) == 1
    out = capsys.readouterr().out
    assert "recovery/mean_recovery@5 (as reported), value: 92.6666666666666" in out
    assert "92.0 computed again" in out or "92 computed again" in out


def test_table_that_the_manifest_does_not_know_is_named(pdf):
    change_attachment(pdf, "recovery.csv", lambda table: table.replace(b"4.9", b"4.8"))
    assert "recovery.csv: its content is not what the manifest was made for" in told(pdf)


def test_changed_digit_in_a_value_of_the_evaluation_is_found_even_with_a_mended_manifest(pdf):
    def raise_mean(content: bytes) -> bytes:
        evaluation = json.loads(content)
        evaluation["studies"][0]["as_reported"]["findings"][0]["value"] += 1e-6
        return canonical_json(evaluation)

    change_attachment(pdf, "evaluation.json", raise_mean, mend_manifest=True)
    assert "evaluation.json: recovery/mean_recovery@5 (as reported), value" in told(pdf)


def test_difference_of_the_last_digits_agrees(pdf):
    def nudge(content: bytes) -> bytes:
        evaluation = json.loads(content)
        evaluation["studies"][0]["as_reported"]["findings"][0]["value"] *= 1 + 1e-12
        return canonical_json(evaluation)

    change_attachment(pdf, "evaluation.json", nudge, mend_manifest=True)
    result = recompute(pdf)
    assert result.differs == () and any("at least 12 digits" in line for line in result.agrees)


def test_changed_verdict_in_the_evaluation_is_found(pdf):
    change_attachment(
        pdf, "evaluation.json", lambda e: e.replace(b'"verdict":"not shown"', b'"verdict":"met"', 1), mend_manifest=True
    )
    assert "verdict: 'met' in the dossier, 'not shown' computed again" in told(pdf)


def test_loosened_criterion_of_the_catalogue_is_found(pdf):
    change_attachment(
        pdf, "criteria-eu-2023-2782.toml", lambda c: c.replace(b"[70, 120]", b"[50, 120]"), mend_manifest=True
    )
    assert "between is [50, 120] in the dossier and [70, 120] in this version" in told(pdf)


@pytest.mark.parametrize(
    ("old", "new"),
    [("not shown", "now shown"), ("4.9", "4.6"), ("92.67", "92.76")],
    ids=["verdict", "raw value", "finding"],
)
def test_other_letters_on_a_page_are_found(pdf, old, new):
    change_printed(pdf, old, new)
    assert "the pages of the PDF print" in told(pdf)


def test_text_and_manifest_changed_together_with_the_page_still_disagree_with_the_evaluation(pdf):
    change_printed(pdf, "not shown", "not known")
    change_attachment(pdf, "dossier.txt", lambda t: t.replace(b"not shown", b"not known", 1), mend_manifest=True)
    assert "the words of the dossier say" in told(pdf)


@pytest.mark.parametrize(
    ("old", "new"),
    [(b'"bytes":', b'"bytes":9'), (b'"edition":"1"', b'"edition":"2"'), (b'"role":"table"', b'"role":"attachment"')],
    ids=["size", "edition", "role"],
)
def test_manifest_that_describes_another_dossier_is_found(pdf, old, new):
    change_attachment(pdf, "manifest.json", lambda manifest: manifest.replace(old, new, 1))
    assert "manifest" in told(pdf)


def test_missing_and_added_attachments_are_named(pdf):
    remove_attachment(pdf, "recompute.txt")
    add_attachment(pdf, "extra.csv", b"a,b\n1,2\n")
    assert "recompute.txt: named by the manifest and not there" in told(pdf)
    assert "extra.csv: not named by the manifest" in told(pdf)


def test_removed_table_ends_in_a_message_on_what_is_missing(pdf, capsys):
    remove_attachment(pdf, "recovery.csv")
    assert main(["recompute", str(pdf)]) == 1
    out = capsys.readouterr().out
    assert "recovery.csv: named by the manifest and not there" in out
    assert "can no longer be evaluated" in out and "/tmp" not in out and "Traceback" not in out


def test_folder_whose_page_was_edited_is_told(folder):
    page = (folder / "dossier.html").read_text("utf-8")
    assert page.count("not shown") > 1
    (folder / "dossier.html").write_text(page.replace("not shown", "met", 1), "utf-8")
    told_text = told(folder)
    assert "dossier.html: not the file that outputs.json names" in told_text
    assert "words of the page" in told_text


def test_folder_whose_evaluation_lies_beside_another_pdf_is_told(folder):
    change_attachment(folder / "dossier.pdf", "recovery.csv", lambda table: table.replace(b"4.9", b"4.8"))
    assert "recovery.csv in dossier.pdf differs" in told(folder)


def test_dossier_of_an_archive_that_refuses_attachments_recomputes_as_a_folder(tmp_path):
    from tests.provenance.small import write_small

    protocol = write_small(tmp_path / "protocol")
    assert main(["dossier", str(protocol), "--out", str(tmp_path / "out"), "--archive", "pdf/a-2"]) == 0
    assert attached(tmp_path / "out" / "dossier.pdf") == {}
    assert recompute(tmp_path / "out").differs == ()
    with pytest.raises(NotADossier, match="refuses attachments"):
        recompute(tmp_path / "out" / "dossier.pdf")


def one_digit_changed(path: Path, seed: int) -> str:
    """Change one digit of one carried file, drawn by the seed; returns which."""
    draw = random.Random(seed)
    files = attached(path)
    places = [(name, found.start()) for name in sorted(files) for found in re.finditer(rb"\d", files[name])]
    name, at = draw.choice(places)
    digit = draw.choice([d for d in b"0123456789" if d != files[name][at]])

    def change(content: bytes) -> bytes:
        return content[:at] + bytes([digit]) + content[at + 1 :]

    change_attachment(path, name, change)
    return f"{name} at {at}"


def found(path: Path) -> bool:
    try:
        return recompute(path).differs != ()
    except NotADossier:
        return True


@pytest.mark.parametrize("seed", range(20))
def test_random_digit_changed_anywhere_in_carried_data_is_found(pdf, seed):
    where = one_digit_changed(pdf, seed)
    assert found(pdf), where


@pytest.mark.slow
def test_two_hundred_random_digits_are_found(small, tmp_path):
    unfound = []
    for seed in range(1000, 1200):
        path = tmp_path / f"{seed}.pdf"
        path.write_bytes(small["dossier.pdf"])
        where = one_digit_changed(path, seed)
        unfound += [] if found(path) else [where]
    assert unfound == []


@pytest.mark.slow
def test_random_digits_of_tables_and_criteria_are_found_with_a_mended_manifest(small, tmp_path):
    """The manifest does not carry the finding of them: the evaluation disagrees by itself."""
    digits = [(found.start(), digit) for found in re.finditer(rb"\d", b"4.6\n4.9\n4.4") for digit in (b"1", b"7")]
    unfound = []
    for i, (_, digit) in enumerate(digits):
        for row in (b"R-1,5,", b"R-2,5,", b"R-3,5,"):
            path = tmp_path / f"{i}.pdf"
            path.write_bytes(small["dossier.pdf"])
            change_attachment(
                path, "recovery.csv", lambda t, r=row, d=digit: t.replace(r + b"4", r + d), mend_manifest=True
            )
            unfound += [] if found(path) else [(row, digit)]
    assert unfound == []


def of_another_installation(evaluation: bytes) -> bytes:
    changed = json.loads(evaluation)
    changed["software"] = "method-dossier 0.0.1"
    return canonical_json(changed)


def test_dossier_of_another_version_is_held_against_its_figures_and_verdicts(pdf):
    change_attachment(pdf, "evaluation.json", of_another_installation, mend_manifest=True)
    result = recompute(pdf)
    assert result.differs == () and "made with method-dossier 0.0.1" in result.notes[0]


def test_verdict_forged_everywhere_in_a_dossier_of_another_version_is_found(pdf):
    """On the pages, in the text and in the manifest: the evaluation computed again still says otherwise."""
    change_attachment(pdf, "evaluation.json", of_another_installation, mend_manifest=True)
    change_attachment(pdf, "dossier.txt", lambda t: t.replace(b"| not shown", b"| now shown"), mend_manifest=True)
    for _ in range(3):
        change_printed(pdf, "not shown", "now shown", occurrence=2)
    assert "no line of the dossier's text gives recovery/mean_recovery@5 as" in told(pdf)
