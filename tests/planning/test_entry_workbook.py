"""The entry workbook: what is open, what is locked, what it says of its protocol, the same bytes every time."""

import datetime as dt
import io
import zipfile
from dataclasses import replace

import openpyxl
import pytest

from validate.pipeline import prepare
from validate.planning.entry import entry_workbook
from validate.planning.making import make_plan
from validate.planning.workbook import EntrySheet, SheetColumn, sheet_names, workbook_bytes
from validate.provenance.design import design_hash
from validate.studies.discovery import kinds
from validate.tables.table import Column
from validate.vocabulary.bench import Entry


def column(role: str, kind: str = "label", **entry) -> SheetColumn:
    return SheetColumn(role, Column(role=role, title=role, type=kind), Entry(role=role, **entry))


def workbook(*columns: SheetColumn, rows=({},) * 3):
    content = workbook_bytes(
        [("workbook", "x")], [EntrySheet("table", "s", columns, rows)], created=dt.date(2031, 3, 3), title="t"
    )
    return openpyxl.load_workbook(io.BytesIO(content))


@pytest.fixture
def book(planned):
    return openpyxl.load_workbook(io.BytesIO(entry_workbook(planned().plan)))


def test_first_sheet_names_protocol_edition_and_design(planned):
    plan = planned().plan
    sheet = openpyxl.load_workbook(io.BytesIO(entry_workbook(plan))).worksheets[0]
    about = {name: text for name, text, *_ in sheet.iter_rows(values_only=True) if name}
    assert sheet.title == "about"
    assert about["workbook"] == "entry workbook, form 1"
    assert (about["protocol"], about["edition"], about["issued"]) == ("PL-1", "2", "2031-03-03")
    assert about["design hash"] == design_hash(plan.loaded.protocol)
    assert about["sheet recovery"] == "recovery"


def test_header_carries_units_and_the_names_that_the_protocol_maps(planned):
    mapped = (
        "    contamination:",
        "    data: {file: r.csv, columns: {found: result}, units: {found: mg/kg}}\n    contamination:",
    )
    book = openpyxl.load_workbook(io.BytesIO(entry_workbook(planned(mapped).plan)))
    header = [cell.value for cell in book["recovery"][1]]
    assert header[:3] == ["sample", "added [µg/kg]", "day"]
    assert "result [mg/kg]" in header


def test_rows_are_in_bench_order_with_what_the_plan_knows(planned, book):
    (study,) = planned().plan.studies
    rows = list(book["recovery"].iter_rows(min_row=2, max_col=4, values_only=True))
    assert [row[0] for row in rows] == [each.code for each in study.placed]
    assert [row[1] for row in rows] == [float(each.position.level) for each in study.placed]
    assert [row[2] for row in rows] == [str(each.position.day) for each in study.placed]


def test_only_cells_to_be_filled_are_open(book):
    sheet = book["recovery"]
    header = [cell.value for cell in sheet[1]]
    locked = {
        name: all(sheet.cell(row, i).protection.locked for row in range(1, 38)) for i, name in enumerate(header, 1)
    }
    opened = {
        name: all(not sheet.cell(row, i).protection.locked for row in range(2, 38)) for i, name in enumerate(header, 1)
    }
    assert {name for name in header if locked[name]} == {"sample", "added [µg/kg]", "replicate"}
    assert {name for name in header if opened[name]} == set(header) - {"sample", "added [µg/kg]", "replicate"}
    assert sheet.protection.sheet and book["about"].protection.sheet


def test_open_label_cells_keep_what_was_typed(book):
    """Format @: a date typed as a label stays the text that was typed."""
    header = [cell.value for cell in book["recovery"][1]]
    assert book["recovery"].cell(2, header.index("analyst") + 1).number_format == "@"


def test_no_cell_holds_a_formula_and_no_part_a_macro_or_link(planned):
    content = entry_workbook(planned(("title: Constructed protocol", 'title: "=1+1"')).plan)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        sheets = [archive.read(name).decode() for name in archive.namelist() if name.startswith("xl/worksheets/")]
        assert all("<f>" not in sheet for sheet in sheets)
        assert not [name for name in archive.namelist() if "vba" in name or "external" in name.lower()]


def test_number_outside_its_range_asks_where_censored_results_may_stand_and_is_refused_elsewhere():
    censored = Column(role="found", title="found", type="number", censored=True, minimum=0)
    exact = Column(role="mass", title="mass", type="number", minimum=0)
    book = workbook(
        SheetColumn("found", censored, Entry(role="found", high=80)),
        SheetColumn("mass", exact, Entry(role="mass", low=1)),
    )
    found, mass = book["table"].data_validations.dataValidation
    assert (found.errorStyle, found.type, found.formula1, found.formula2) == ("warning", "decimal", "0", "80")
    assert (mass.errorStyle, mass.operator, mass.formula1) == (None, "greaterThanOrEqual", "1")
    assert "<2, n.d. or NA" in found.error and "<2" not in mass.error


def test_allowed_values_are_a_list_and_a_long_list_lies_beside_the_first_sheet():
    short = workbook(column("answer", allowed=("detected", "not detected")))
    assert short["table"].data_validations.dataValidation[0].formula1 == '"detected,not detected"'
    names = tuple(f"a rather long answer number {n}" for n in range(12))
    long = workbook(column("answer", allowed=names))
    assert long["table"].data_validations.dataValidation[0].formula1 == "about!$D$1:$D$12"
    assert [long["about"].cell(row, 4).value for row in range(1, 13)] == list(names)


def test_same_plan_gives_the_same_bytes(planned):
    assert entry_workbook(planned().plan) == entry_workbook(planned().plan)


def test_sheet_names_fit_and_differ():
    studies = ["recovery-" + "x" * 30, "recovery-" + "x" * 31, "about"]
    names = sheet_names(studies)
    assert len(set(names.values())) == 3
    assert max(map(len, names.values())) <= 31
    assert names["about"] == "about~2"


def test_study_whose_kind_has_no_plan_gets_its_columns_and_open_rows(planned):
    plan = planned().plan
    without = {"recovery": replace(kinds()["recovery"], plan=None)}
    method = prepare(plan.loaded.path, with_tables=False).method
    (sheet,) = make_plan(plan.loaded, without, method, ()).sheets
    assert [each.column.role for each in sheet.columns] == [column.role for column in kinds()["recovery"].columns]
    assert set(map(len, sheet.rows)) == {0} and len(sheet.rows) == 200


def test_two_studies_of_one_table_share_a_sheet(planned):
    """The second adds the columns that it needs; nothing is measured twice."""
    both = (
        "    contamination: spiked before extraction\n",
        "    contamination: spiked before extraction\n    data: {file: r.csv}\n",
    )
    text = (
        "studies:\n",
        "studies:\n  precision:\n    kind: precision\n    data: {file: r.csv, columns: {result: found}}\n"
        "    design: {kind: one-way, outer: {column: day, called: day}, recorded: [{column: lot, called: lot}]}\n",
    )
    plan = planned(both, text).plan
    assert [study.shares for study in plan.studies] == ["", "precision"]
    (sheet,) = plan.sheets
    headers = [each.header for each in sheet.columns]
    assert headers.count("found [µg/kg]") == 1 and "added [µg/kg]" in headers


RUNS = ("plan: {seed", "readiness: {source: own, water_blank: {at_most: 0.1, unit: µg/L}}\nruns: runs.csv\nplan: {seed")


def test_with_a_run_log_every_table_asks_for_the_run_of_a_result(planned):
    book = openpyxl.load_workbook(io.BytesIO(entry_workbook(planned(RUNS).plan)))
    header = [cell.value for cell in book["recovery"][1]]
    assert {"run", "read_at", "developer_added"} <= set(header)
    assert len(set(header)) == len(header)
    assert not book["recovery"].cell(2, len(header)).protection.locked


def test_the_run_log_has_a_sheet_with_the_columns_that_the_rules_ask_for(planned):
    book = openpyxl.load_workbook(io.BytesIO(entry_workbook(planned(RUNS).plan)))
    header = [cell.value for cell in book["run log"][1]]
    assert header[0] == "run"
    assert {"calibrated", "water_blank [µg/L]", "first_reading"} <= set(header)
    assert not book["run log"]["A2"].protection.locked


def test_without_a_run_log_there_is_no_sheet_for_one(book):
    assert book.sheetnames == ["about", "recovery"]
    assert "run" not in [cell.value for cell in book["recovery"][1]]
