"""What leaves the organiser's house: the bytes of the coded report and of the participants' pages are searched."""

from __future__ import annotations

import csv
import io
import json
import re

import pikepdf
import pytest

from tests.packages.searching import everything
from validate.pipeline import evaluate, prepare, render

CODES = ("QX417", "KT582", "MR903", "ZB268", "HN731", "WD856")
METHODS = ("column of the old kind", "plate by the usual supplier")
COMMENTS = ("our new colleague dropped it", "bag arrived torn")
NAME = "Lower Farm Institute"
PROTOCOL = """format: 1
id: PACKED-1
title: Round with things to keep
issued: 2031-03-03
origin: {data: invented, statement: Invented for a test.}
laboratory: Example organiser (fictional)
purpose: round
intended_use: quantitative
method: {measurand: deoxynivalenol, matrix: wheat, unit: µg/kg}
studies:
  round:
    kind: proficiency_round
    round: P-1
    status: final
    items: {preparation: Invented.}
    data: {file: results.csv, columns: {comment: Remarks}}
    samples: [A, B]
    assigned_value: {by: algorithm A}
    sigma_pt: {by: prescribed, percent: 15, source: test}
    earlier_rounds: [past.json]
"""


def table() -> str:
    """Six laboratories, two samples; an undeclared column holds names; rows in the order of arrival."""
    rows = ["laboratory,sample,result,method,Remarks,who"]
    for i, code in enumerate(CODES):
        for sample, content in (("B", 1500), ("A", 600)):
            method, said = METHODS[i % 2], COMMENTS[i] if i < 2 and sample == "A" else ""
            value = content * (1 + 0.04 * (i - 2.5)) * (3 if i == 3 else 1)
            rows.append(f"{code},{sample},{value + 0.137 * i:.3f},{method},{said},{NAME} {i}")
    return "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def packed(tmp_path_factory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("packed")
    (folder / "results.csv").write_text(table(), encoding="utf-8")
    (folder / "protocol.yaml").write_text(
        PROTOCOL.replace("    earlier_rounds: [past.json]\n", "").replace("P-1", "P-0"), encoding="utf-8"
    )
    from validate.provenance.evaluation_file import evaluation_bytes

    (folder / "past.json").write_bytes(evaluation_bytes(evaluate(prepare(folder))))
    (folder / "protocol.yaml").write_text(PROTOCOL, encoding="utf-8")
    prepared = prepare(folder)
    return dict(render(prepared, evaluate(prepared)).files)


@pytest.fixture(scope="module")
def searched(packed, tmp_path_factory) -> dict[str, str]:
    """Name of a given-out file → everything that is in it: text, metadata, attachments, unpacked."""
    scratch = tmp_path_factory.mktemp("searched")
    return {name: everything(name, content, scratch) for name, content in packed.items()}


def leaflet_names(packed) -> list[str]:
    return sorted(name for name in packed if name.startswith("participants/"))


def test_every_laboratory_has_a_page_in_two_forms_named_by_its_code(packed):
    assert leaflet_names(packed) == sorted(f"participants/{c}.{e}" for c in CODES for e in ("html", "pdf"))


def test_a_participants_page_holds_its_own_code_and_result(searched):
    for i, code in enumerate(CODES):
        for ending in ("html", "pdf"):
            page = searched[f"participants/{code}.{ending}"]
            assert code in page
            assert ("action signal" in page) or i != 3


def test_a_participants_page_holds_no_other_code(searched):
    for code in CODES:
        for ending in ("html", "pdf"):
            page = searched[f"participants/{code}.{ending}"]
            assert [other for other in CODES if other != code and other in page] == []


def test_a_participants_page_holds_no_comment_no_method_text_and_no_name(searched):
    for name, page in searched.items():
        if name.startswith("participants/"):
            flat = re.sub(r"\s", "", page)
            kept_back = (*COMMENTS, *METHODS, NAME)
            assert [t for t in kept_back if t in page or re.sub(r"\s", "", t) in flat] == [], name


def test_a_participants_page_names_no_row_and_no_file_of_the_table(searched):
    for name, page in searched.items():
        if name.startswith("participants/"):
            assert "results.csv" not in page and "data-row" not in page and "protocol.yaml" not in page


def test_pages_without_results_are_alike_but_for_the_own_marks(packed):
    """The background is drawn once: no picture differs but by the line that marks the own score."""
    pictures = set()
    for code in CODES:
        page = packed[f"participants/{code}.html"].decode()
        svgs = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
        pictures.add(tuple(re.sub(r'<path d="M[^"]*" style="fill:[^"]*"\s*/></svg>|<path d="M[0-9.]+ [0-9.]+V[^>]*/>',
                                  "", svg) for svg in svgs))  # fmt: skip
        assert len(svgs) == 2
    assert len(pictures) == 1


def test_the_coded_report_holds_all_codes_and_methods_and_no_comment_and_no_name(searched):
    for name in ("coded/dossier.html", "coded/dossier.pdf", "coded/evaluation.json", "coded/manifest.json"):
        text = searched[name]
        flat = re.sub(r"\s", "", text)
        assert [t for t in (*COMMENTS, NAME) if t in text or re.sub(r"\s", "", t) in flat] == [], name
    for code in CODES:
        assert code in searched["coded/dossier.html"] and code in searched["coded/dossier.pdf"]


def test_the_coded_report_keeps_nothing_of_the_order_in_which_results_arrived(searched):
    carried = searched["coded/dossier.html"]
    lines = [line for line in re.findall(r"^([A-Z]{2}[0-9]{3}),([AB]),", carried, re.MULTILINE)]
    assert lines == sorted((code, sample) for code in CODES for sample in "AB")


def test_the_organisers_archive_holds_everything(searched):
    """It also shows that the search finds what is there."""
    for text in (*COMMENTS, *METHODS, NAME, *CODES):
        assert text in searched["dossier.html"] and text in searched["dossier.pdf"]


def test_neither_scratch_folder_nor_machine_is_named(searched):
    for name, text in searched.items():
        if name.startswith(("coded/", "participants/")) and not name.endswith("outputs.json"):
            assert not re.search(r"/tmp/|/home/|\\Users\\", text), name


def test_the_coded_report_recomputes_to_the_scores_of_the_archive(packed):
    def scores(evaluation: bytes) -> list:
        study = json.loads(evaluation)["studies"][0]
        return next(t["rows"] for t in study["as_reported"]["tables"] if t["name"] == "scores")

    assert scores(packed["coded/evaluation.json"]) == scores(packed["evaluation.json"])


def test_the_coded_report_is_a_dossier_that_recomputes_from_itself(packed, tmp_path):
    from validate.pipeline.recomputing import recompute

    for name, content in packed.items():
        if name.startswith("coded/"):
            (tmp_path / name.removeprefix("coded/")).write_bytes(content)
    assert recompute(tmp_path).differs == ()


def test_scores_are_given_as_csv_and_workbook_with_all_digits(packed):
    import openpyxl

    lines = list(csv.DictReader(io.StringIO(packed["scores.csv"].decode("utf-8"))))
    study = json.loads(packed["evaluation.json"])["studies"][0]
    rows = next(t["rows"] for t in study["as_reported"]["tables"] if t["name"] == "scores")
    assert [float(line["z"]) for line in lines] == [row[8] for row in rows]
    sheet = openpyxl.load_workbook(io.BytesIO(packed["scores.xlsx"]))["scores"]
    assert [row[8] for row in sheet.iter_rows(min_row=2, values_only=True)] == pytest.approx([row[8] for row in rows])


def test_history_on_a_page_is_that_of_its_laboratory(packed):
    assert "Your scores in earlier rounds" in packed["participants/QX417.html"].decode()
    assert "P-0" in packed["participants/QX417.html"].decode()


def test_an_action_signal_brings_a_form_that_can_be_filled_in(packed, tmp_path):
    assert "<textarea" in packed["participants/ZB268.html"].decode()
    assert "<textarea" not in packed["participants/MR903.html"].decode()
    place = tmp_path / "form.pdf"
    place.write_bytes(packed["participants/ZB268.pdf"])
    with pikepdf.open(place) as pdf:
        assert len(pdf.Root.AcroForm.Fields) == 8
