"""An archive full of names, reasons and comments: none of them leaves with the coded report or a page.

The names stand wherever a protocol, a table or an earlier evaluation has room for one.
"""

from __future__ import annotations

import datetime as dt
import json
import re

import pytest

from tests.packages.searching import everything, found_in
from validate.cli import main
from validate.pipeline import evaluate, prepare, render
from validate.pipeline.recomputing import recompute
from validate.provenance.evaluation_file import evaluation_bytes
from validate.provenance.manifest import manifest_bytes
from validate.tables.writing import workbook_of

CODES = ("QX417", "KT582", "MR903", "ZB268", "HN731", "WD856", "PF640", "LC119")
NAMES = {
    "comment in the protocol": "Upper Brook Assayers",
    "reason of an exclusion": "Lab Halloran phoned",
    "reason of a correction": "Lab Penhallow wrote a letter",
    "who decided an exclusion": "T. Halloran of that laboratory",
    "who decided a correction": "F. Penhallow of that laboratory",
    "code before it was corrected": "Lower Farm Institute",
    "number before it was corrected": "12O7 by Trelawny",
    "comment of a laboratory": "our Kensington freezer failed",
    "comment that names a row": "sample swapped at Old Mill",
    "column that nobody reads": "Marshgate University",
    "name of a column that nobody reads": "institute",
    "column that nobody reads in another table": "weighed by Dr Quill",
    "reason of a revised seal": "Lab Ferncombe asked for it",
    "reason of a new edition": "Lab Wetherby complained",
    "superseded evaluation": "an earlier word of Birchall",
    "earlier round": "an earlier reason of Harkness",
    "other round": "a comment from Rookwood",
    "sheet that nobody reads": "KT582 is Ashdown Laboratories",
}
TARGETS = """    assigned_value: {by: algorithm A}
    sigma_pt: {by: prescribed, percent: 15, source: test}
"""


def protocol(names: dict[str, str], suffix: str = "csv", *, round_: str = "K-2", more: str = "") -> str:
    """A round with two treatments by columns that leave, a second round, and homogeneity."""
    return f"""# {names["comment in the protocol"]} is KT582
format: 1
id: KEPT-1
edition: 2
title: Round with things to keep
issued: 2031-03-03
laboratory: Example organiser (fictional)
people: {{planned: A. Example, approved: B. Example}}
purpose: round
intended_use: quantitative
method: {{measurand: deoxynivalenol, matrix: wheat, unit: µg/kg}}
studies:
  round:   # {names["comment in the protocol"]}
    kind: proficiency_round
    round: {round_}
    status: final
    items: {{preparation: Invented.}}
    data: {{file: results.{suffix}, columns: {{comment: Remarks}}}}
    samples: [A, B]
{TARGETS}{more}  other:
    kind: proficiency_round
    round: OTHER
    status: final
    items: {{preparation: Invented.}}
    data: {{file: other.{suffix}}}
    samples: [C]
{TARGETS}  homogeneity:
    kind: homogeneity
    data: {{file: homogeneity.{suffix}}}
    design: {{units: 10, replicates: 2}}
    sigma_pt: {{percent: 15, source: test}}
    when_not_sufficient: widen
amendments:
  - data: results.{suffix}
    where: {{laboratory: {names["code before it was corrected"]}, sample: A}}
    column: laboratory
    old: {names["code before it was corrected"]}
    new: PF640
    by: {names["who decided a correction"]}
    on: 2031-02-01
    reason: {names["reason of a correction"]}
  - data: results.{suffix}
    where: {{laboratory: LC119, sample: B}}
    column: result
    old: {names["number before it was corrected"]}
    new: 1207
    by: {names["who decided a correction"]}
    on: 2031-02-01
    reason: {names["reason of a correction"]}
  - data: results.{suffix}
    where: {{laboratory: MR903, sample: A}}
    column: result
    old: 71
    new: 710
    by: {names["who decided a correction"]}
    on: 2031-02-01
    reason: {names["reason of a correction"]}
  - data: results.{suffix}
    where: {{laboratory: MR903, sample: A}}
    column: Remarks
    old: {names["comment of a laboratory"]}
    new: {names["comment of a laboratory"]}!
    by: {names["who decided a correction"]}
    on: 2031-02-01
    reason: {names["reason of a correction"]}
exclusions:
  - data: results.{suffix}
    where: {{Remarks: {names["comment that names a row"]}}}
    by: {names["who decided an exclusion"]}
    on: 2031-02-01
    reason: {names["reason of an exclusion"]}
  - data: results.{suffix}
    where: {{institute: {names["column that nobody reads"]} 4, sample: A}}
    by: {names["who decided an exclusion"]}
    on: 2031-02-01
    reason: {names["reason of an exclusion"]}
  - data: homogeneity.{suffix}
    where: {{unit: U10}}
    by: A. Example
    on: 2031-02-01
    reason: Bag was open when it was taken out
"""


def results(names: dict[str, str]) -> list[list[str]]:
    """Rows in the order of arrival, with what is kept back."""
    rows = [["laboratory", "sample", "result", "method", "Remarks", "institute"]]
    for i, code in enumerate(CODES):
        for sample, content in (("B", 1200), ("A", 700)):
            value = f"{content * (1 + 0.02 * (i - 3)):.0f}"
            said = ""
            if (code, sample) == ("PF640", "A"):
                code = names["code before it was corrected"]
            if (code, sample) == ("LC119", "B"):
                value = names["number before it was corrected"]
            if (code, sample) == ("MR903", "A"):
                value, said = "71", names["comment of a laboratory"]
            if (code, sample) == ("KT582", "B"):
                said = names["comment that names a row"]
            rows.append([code, sample, value, "column", said, f"{names['column that nobody reads']} {i}"])
    return rows


def other(names: dict[str, str]) -> list[list[str]]:
    rows = [["laboratory", "sample", "result", "comment"]]
    return rows + [[code, "C", str(100 + i), names["other round"]] for i, code in enumerate(CODES[:5])]


def homogeneity(names: dict[str, str]) -> list[list[str]]:
    rows = [["unit", "order", "replicate", "result", "note"]]
    return rows + [[f"U{i:02d}", str(i), str(j), str(700 + (7 * i + 3 * j) % 11),
                    names["column that nobody reads in another table"]]
                   for i in range(1, 11) for j in (1, 2)]  # fmt: skip


def number(cell: str) -> str | float:
    return float(cell) if cell.isdecimal() else cell


def write(folder, suffix: str, names: dict[str, str]) -> None:
    for name, rows in (("results", results(names)), ("other", other(names)), ("homogeneity", homogeneity(names))):
        if suffix == "csv":
            content = "\n".join(",".join(row) for row in rows).encode() + b"\n"
        else:
            sheets = {"Results": [[number(cell) for cell in row] for row in rows],
                      "Key": [["code", "name"], ["KT582", names["sheet that nobody reads"]]]}  # fmt: skip
            content = workbook_of(sheets, created=dt.date(2031, 3, 3), title="")
        (folder / f"{name}.{suffix}").write_bytes(content)


def archive(folder, suffix: str, *, with_pdf: bool = True, more: str = "") -> dict[str, bytes]:
    """A first edition, a sealed design that was revised, an earlier round, and the round itself."""
    names = NAMES
    sheet = "" if suffix == "csv" else ", sheet: Results"
    written = lambda **kw: re.sub(r"(file: \w+\.xlsx)", rf"\1{sheet}", protocol(names, suffix, **kw))  # noqa: E731
    write(folder, suffix, names)
    place = folder / "protocol.yaml"
    earlier = {"reason of an exclusion": names["earlier round"]}
    text = written(round_="K-1").replace(names["reason of an exclusion"], earlier["reason of an exclusion"])
    place.write_text(
        text.replace("    data: {file: results", "    show_comments: yes\n    data: {file: results"), "utf-8"
    )
    before = evaluate(prepare(folder))
    (folder / "past.json").write_bytes(evaluation_bytes(before))
    place.write_text(
        written(round_="K-2").replace(names["reason of an exclusion"], names["superseded evaluation"]), "utf-8"
    )
    superseded = evaluate(prepare(folder))
    (folder / "before").mkdir()
    (folder / "before" / "evaluation-1.json").write_bytes(evaluation_bytes(superseded))
    (folder / "before" / "manifest-1.json").write_bytes(
        manifest_bytes(superseded, {"evaluation.json": evaluation_bytes(superseded)}))  # fmt: skip
    text = written(more="    earlier_rounds: [past.json]\n" + more)
    place.write_text(text, "utf-8")
    assert main(["seal", str(folder)]) == 0
    text = text.replace("percent: 15", "percent: 16")
    text += (f"supersedes: {{title: Edition 1, manifest: before/manifest-1.json, evaluation: before/evaluation-1.json, "
             f"reason: {names['reason of a new edition']}}}\n")  # fmt: skip
    place.write_text(text, "utf-8")
    assert (
        main(["seal", str(folder), "--revise", "--reason", names["reason of a revised seal"], "--date", "2031-03-04"])
        == 0
    )
    prepared = prepare(folder)
    return dict(render(prepared, evaluate(prepared), with_pdf=with_pdf).files)


@pytest.fixture(scope="module", params=["csv", "xlsx"])
def given(request, tmp_path_factory) -> dict[str, bytes]:
    return archive(tmp_path_factory.mktemp("archive"), request.param, with_pdf=request.param == "csv")


@pytest.fixture(scope="module")
def searched(given, tmp_path_factory) -> dict[str, str]:
    scratch = tmp_path_factory.mktemp("searched")
    return {name: everything(name, content, scratch) for name, content in given.items()}


def test_no_name_reason_or_comment_leaves_with_the_coded_report_or_a_page(searched):
    leaving = {name: text for name, text in searched.items() if "coded/" in name or "participants/" in name}
    pdf = "dossier.pdf" in searched
    assert len(leaving) == 2 * (4 + pdf) + (1 + pdf) * (len(CODES) + 5)
    assert {name: found for name, text in leaving.items() if (found := found_in(text, NAMES.values()))} == {}


def test_the_search_finds_all_of_them_in_the_archive(searched):
    kept = searched["dossier.html"]
    missing = {*NAMES.values()} - {*found_in(kept, NAMES.values())}
    assert missing <= {NAMES["sheet that nobody reads"]}, "a text table has no further sheet"


def test_scores_of_the_coded_report_are_those_of_the_archive(given):
    def scores(content: bytes) -> list:
        return [t["rows"] for study in json.loads(content)["studies"]
                for t in study["as_reported"]["tables"] if t["name"] in ("scores", "history", "targets")]  # fmt: skip

    assert scores(given["round/coded/evaluation.json"]) == scores(given["evaluation.json"])


def test_the_coded_report_tells_that_rows_were_left_out_and_numbers_corrected(given):
    coded = json.loads(given["round/coded/evaluation.json"])
    of_round = [e for e in coded["exclusions"] if e["file"].startswith("results")]
    assert len(of_round) == 2 and {e["reason"] for e in of_round} == {"kept by the organiser"}
    assert [(a["old"], a["new"]) for a in coded["amendments"]] == [("not readable", "1207"), ("71", "710")]
    assert "Bag was open when it was taken out" in {e["reason"] for e in coded["exclusions"]}
    assert "1 corrected text is written into" in coded["protocol"]["origin"]["statement"]
    assert coded["protocol"]["title"].endswith("(coded report, final)")


def test_the_coded_report_keeps_the_seal_and_recomputes_from_itself(given, tmp_path):
    coded = json.loads(given["round/coded/evaluation.json"])
    archived = json.loads(given["evaluation.json"])
    assert coded["seal"]["hash"] == archived["seal"]["hash"] and not coded["seal"].get("changes")
    for name, content in given.items():
        if name.startswith("round/coded/"):
            (tmp_path / name.removeprefix("round/coded/")).write_bytes(content)
    assert recompute(tmp_path).differs == ()


def test_reasons_and_comments_are_there_where_the_protocol_says_so(tmp_path, tmp_path_factory):
    """The code that was a name is not: a corrected text is never shown as it came."""
    files = archive(tmp_path, "csv", with_pdf=False, more="    show_reasons: yes\n    show_comments: yes\n")
    page = everything("", files["round/coded/dossier.html"], tmp_path_factory.mktemp("s"))
    shown = ("reason of an exclusion", "reason of a correction", "who decided an exclusion",
             "who decided a correction", "comment of a laboratory", "comment that names a row")  # fmt: skip
    assert {*found_in(page, NAMES.values())} == {NAMES[what] for what in shown}


def test_a_table_that_another_study_reads_too_is_refused_by_check(tmp_path):
    write(tmp_path, "csv", NAMES)
    text = protocol(NAMES).replace("file: other.csv", "file: results.csv").replace("[C]", "[A, B]")
    (tmp_path / "protocol.yaml").write_text(text, "utf-8")
    told = [problem for problem in prepare(tmp_path).problems if problem.code == "extract-of-shared-file"]
    assert told and "give the results of the laboratories a file of their own" in str(told[0])
