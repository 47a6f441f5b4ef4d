"""What a sheet of a workbook means: the same table as the CSV of its stored values, and what CSV cannot say is told."""

from __future__ import annotations

import datetime as dt
import io
import math

import openpyxl
import pytest
import xlsxwriter

from validate.tables.table import Column
from validate.vocabulary.problem import ERROR

HEADER = ("sample", "added", "found")
ROWS = (("A", 5, 4.9), ("B", 5, 5.25))


def workbook(*rows, header=HEADER, title="Recovery") -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    book.active.title = title
    for row in (header, *(rows or ROWS)):
        book.active.append(row)
    return book


def written(fill, **options) -> bytes:
    """A workbook of one sheet that `fill(workbook, sheet)` writes with the library that can keep formula values."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True, **options}) as book:
        sheet = book.add_worksheet("Recovery")
        sheet.write_row(0, 0, HEADER)
        fill(book, sheet)
    # The library asks for all formulas to be computed on opening; a program that computed them does not.
    return stream.getvalue()


def computed(content: bytes) -> bytes:
    """The workbook as a program saves it that has computed its formulas."""
    import zipfile

    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b' fullCalcOnLoad="1"', b""))
    return stream.getvalue()


def codes(reading) -> list[str]:
    return [p.code for p in reading.problems]


def found(reading) -> list[float]:
    assert not [str(p) for p in reading.problems if p.severity == ERROR]
    return reading.reported.frame["found"].tolist()


def test_only_sheet_is_read_and_named(read_workbook):
    reading = read_workbook(workbook())
    assert found(reading) == [4.9, 5.25]
    assert reading.reported.frame["added"].tolist() == ["5", "5"]
    assert reading.read_as == 'Read as XLSX workbook, sheet "Recovery", values as stored.'
    assert not reading.problems
    assert reading.reported.rows().file == "r.xlsx!Recovery"


def test_csv_of_the_stored_values_gives_the_same_table(read, read_workbook):
    rows = [("A", 5, 1 / 3, 20), ("B", 0.5, 1e-7, 20.25), ("C", 100, 1e16, 3)]
    header = ("sample", "added", "found", "mass")
    text = "\n".join(",".join(map(str, row)) for row in (header, *rows))
    sheet = read_workbook(workbook(*rows, header=header)).reported
    assert sheet.frame.equals(read(text.encode()).reported.frame)


def test_place_of_a_problem_is_written_as_a_spreadsheet_does(read_workbook):
    reading = read_workbook(workbook(("A", 5, "0,31"), ("B", 5, 0.3), ("C", 5, "x 1")))
    problem = next(p for p in reading.problems if p.code == "cell-no-number")
    assert str(problem.place) == "protocols/invented/r.xlsx!Recovery!C4"
    assert str(reading.cell(3, "found")) == "protocols/invented/r.xlsx!Recovery!C3"


def test_sheet_must_be_named_where_there_are_several(read_workbook):
    book = workbook()
    book.create_sheet("Blanks")
    [problem] = read_workbook(book).problems
    assert (problem.code, str(problem.place)) == ("workbook-sheet-unsaid", "p.yaml:7:1")
    assert '"Recovery", "Blanks"' in problem.message
    assert found(read_workbook(book, sheet="Recovery")) == [4.9, 5.25]
    assert codes(read_workbook(book, sheet="Blanks")) == ["workbook-sheet-empty"]


def test_nearest_sheet_is_offered(read_workbook):
    [problem] = read_workbook(workbook(), sheet="recovery").problems
    assert (problem.code, problem.mend) == ("workbook-sheet-missing", 'did you mean "Recovery"?')


def test_unit_behind_the_name_is_the_expected_one_or_is_converted(read_workbook):
    header = ("sample", "added [µg/kg]", "found [mg/kg]")
    reading = read_workbook(workbook(("A", 5, 0.0049), header=header))
    assert found(reading) == [4.9]
    [notice] = reading.problems
    assert (notice.code, str(notice.place)) == ("units-header-converted", "protocols/invented/r.xlsx!Recovery!C1")


def test_unit_behind_the_name_is_understood_in_a_text_table_too(read):
    assert found(read("sample,added [µg/kg],found [µg/kg]\nA,5,4.9\n".encode())) == [4.9]
    reading = read("Nr,spiked [µg/kg],result [µg/kg]\nA,5,4.9\n".encode(),
                   columns={"sample": "Nr", "added": "spiked", "found": "result"},
                   amendments=[{"where": {"Nr": "A"}, "column": "result", "old": "4.9", "new": "4.8"}])  # fmt: skip
    assert found(reading) == [4.8]


@pytest.mark.parametrize(
    ("unit", "declared", "code"),
    [("mg/L", None, "units-header-unfit"), ("mean", None, "units-header-unfit"),
     ("mg/kg", "ng/kg", "units-header-differs")],
)  # fmt: skip
def test_unit_behind_the_name_that_does_not_fit_is_an_error(read_workbook, unit, declared, code):
    book = workbook(header=("sample", "added", f"found [{unit}]"))
    assert codes(read_workbook(book, units={"found": declared} if declared else {})) == [code]


def test_results_that_are_no_number_are_kept_apart(read_workbook):
    cells = ["<2", "n.d.", "NA", None, 0, ">50"]
    table = read_workbook(workbook(*((f"R{i}", 5, cell) for i, cell in enumerate(cells)))).reported
    assert table.marks["found"].tolist() == ["<2", "n.d.", "NA", "", "", ">50"]
    assert [math.isnan(v) for v in table.frame["found"]] == [True, True, True, True, False, True]


def test_error_value_is_not_taken_for_no_result(read_workbook):
    book = workbook(("A", 5, "#N/A"), ("B", 5, "NA"))
    assert book.active["C2"].data_type == "e"
    reading = read_workbook(book)
    assert [(p.code, str(p.place).rpartition("!")[2]) for p in reading.problems] == [("cell-spreadsheet-error", "C2")]


@pytest.mark.parametrize(
    ("value", "code"),
    [(dt.date(2031, 3, 1), "cell-date"), (dt.datetime(2031, 3, 1, 9, 30), "cell-date"), (dt.time(1, 3), "cell-date"),
     (True, "cell-boolean"), ("=1+2", "cell-formula-without-value"), ("1-Mar", "cell-date")],
)  # fmt: skip
def test_what_is_no_number_is_refused_in_a_number_column(read_workbook, value, code):
    assert codes(read_workbook(workbook(("A", 5, value), ("B", 5, 4.9)))) == [code]


def test_percentage_is_not_taken_for_a_fraction(read_workbook):
    book = workbook(("A", 5, 0.951))
    book.active["C2"].number_format = "0.0%"
    [problem] = read_workbook(book).problems
    assert (problem.code, problem.message[:7]) == ("cell-percent", '"95.1%"')


@pytest.mark.parametrize("epoch", [openpyxl.utils.datetime.WINDOWS_EPOCH, openpyxl.utils.datetime.MAC_EPOCH])
def test_dates_are_read_in_either_date_system(read_workbook, epoch):
    book = workbook(("A", 5, 4.9, dt.date(2031, 3, 9), dt.date(2031, 3, 8)), header=(*HEADER, "read_on", "day"))
    book.epoch = epoch
    assert read_workbook(book).reported.frame.loc[2, ["read_on", "day"]].tolist() == ["2031-03-09", "2031-03-08"]


def test_numbers_that_are_labels_are_written_without_a_point(read_workbook):
    table = read_workbook(workbook((17, 5, 4.9, 1), header=(*HEADER, "day"))).reported
    assert table.frame.loc[2, ["sample", "day"]].tolist() == ["17", "1"]


def test_label_whose_format_adds_text_is_told(read_workbook):
    book = workbook((17, 5, 4.9))
    book.active["A2"].number_format = '"R-"000'
    [notice] = read_workbook(book).problems
    assert (notice.code, notice.severity) == ("column-format-adds", "notice")
    assert '"17" is read' in notice.message


def test_digits_that_the_sheet_does_not_show_are_told_once_with_their_count(read_workbook):
    book = workbook(("A", 5, 1.27), ("B", 5, 1.3), ("C", 5, 2.45))
    for row in (2, 3, 4):
        book.active[f"C{row}"].number_format = "0.0"
    reading = read_workbook(book)
    assert found(reading) == [1.27, 1.3, 2.45]
    [notice] = reading.problems
    assert notice.code == "column-digits-hidden"
    assert "2 cells hold other digits than they show: the first holds 1.27 and shows 1.3" in notice.message
    assert str(notice.place).endswith("!C2")


def test_numbers_kept_as_text_are_told_and_read(read_workbook):
    reading = read_workbook(workbook(("A", 5, "4.9"), ("B", 5, 5.25)))
    assert found(reading) == [4.9, 5.25]
    assert codes(reading) == ["column-text-numbers"]


def test_decimal_comma_of_texts_does_not_change_stored_numbers(read_workbook):
    reading = read_workbook(workbook(("A", 0.5, "4,9"), ("B", 0.5, 5.25), ("C", 0.5, "<0,5")))
    assert found(reading)[:2] == [4.9, 5.25]
    assert reading.reported.marks["found"].tolist() == ["", "", "<0.5"]
    assert "decimal comma in numbers kept as text (detected)" in reading.read_as


def test_formula_with_its_value_is_read_and_told(read_workbook):
    def fill(book, sheet):
        sheet.write_row(1, 0, ("A", 5))
        sheet.write_formula(1, 2, "=B2*0.98", None, 4.9)

    reading = read_workbook(computed(written(fill)))
    assert found(reading) == [4.9]
    assert codes(reading) == ["column-formulas"]


def test_formula_values_that_wait_for_computing_are_not_trusted(read_workbook):
    """A writing library puts 0 as the value of each formula and asks for computing on opening."""

    def fill(book, sheet):
        sheet.write_row(1, 0, ("A", 5))
        sheet.write_formula(1, 2, "=B2*0.98")

    assert codes(read_workbook(written(fill))) == ["cell-formula-without-value"]


def test_formula_without_value_is_refused_in_a_label_column(read_workbook):
    assert codes(read_workbook(workbook(('="R-"&1', 5, 4.9)))) == ["cell-formula-without-value"]


def test_formula_may_be_amended_like_any_cell(read_workbook):
    amendments = [{"where": {"sample": "A"}, "column": "found", "old": "=1+2", "new": "3"}]
    reading = read_workbook(workbook(("A", 5, "=1+2"), ("B", 5, 5)), amendments=amendments)
    assert found(reading) == [3, 5]
    assert codes(reading) == ["cell-unreadable-treated"]
    assert reading.amendments[0].file == "r.xlsx!Recovery"


def test_merged_cells_of_a_column_that_is_read_are_an_error(read_workbook):
    book = workbook(("A", 5, 4.9, "x", "y"), ("B", 5, 5.0, "x", "y"), header=(*HEADER, "n", "o"))
    book.active.merge_cells("D2:E3")
    assert codes(read_workbook(book)) == ["table-columns-ignored"]
    book.active.merge_cells("B2:B3")
    told = [p for p in read_workbook(book).problems if p.code == "sheet-merged"]
    assert ["B2:B3 are merged" in p.message for p in told] == [True]


def test_hidden_rows_columns_and_sheets_are_told(read_workbook):
    book = workbook(("A", 5, 4.9), ("B", 5, 5), ("C", 5, 6))
    book.active.row_dimensions[3].hidden = True
    book.active.column_dimensions["C"].hidden = True
    book.create_sheet("Old results").sheet_state = "hidden"
    reading = read_workbook(book)
    assert found(reading) == [4.9, 5, 6]
    assert sorted(codes(reading)) == ["sheet-hidden-column", "sheet-hidden-rows", "workbook-hidden-sheets"]
    [sheets] = [p for p in reading.problems if p.code == "workbook-hidden-sheets"]
    assert '"Old results"' in sheets.message
    assert str(sheets.place) == "protocols/invented/r.xlsx"


def test_blank_rows_and_a_later_header_are_told_as_in_a_text_table(read_workbook):
    book = workbook(("A", 5, 4.9), (), ("B", 5, 5))
    assert codes(read_workbook(book)) == ["table-blank-rows"]
    book = openpyxl.Workbook()
    for row in (("Recovery in coffee",), HEADER, ("A", 5, 4.9)):
        book.active.append(row)
    [problem] = read_workbook(book).problems
    assert (problem.code, problem.place.line) == ("table-header-later", 2)


def test_cells_right_of_the_header_are_told(read_workbook):
    reading = read_workbook(workbook(("A", 5, 4.9, None, "look here")))
    assert [(p.code, p.place.column) for p in reading.problems] == [("table-column-nameless", 5)]


def test_rich_text_is_joined_and_escapes_are_undone(read_workbook):
    from openpyxl.cell.rich_text import CellRichText, TextBlock
    from openpyxl.cell.text import InlineFont

    text = CellRichText("Alder ", TextBlock(InlineFont(b=True), "Ridge"))
    reading = read_workbook(workbook(("A", 5, 4.9, text), ("B", 5, 4.9, "a_x0041_b"), header=(*HEADER, "day")))
    assert reading.reported.frame["day"].tolist() == ["Alder Ridge", "aAb"]


def test_row_of_two_hundred_columns_is_read_by_name(read_workbook):
    extra = [f"x{i}" for i in range(200)]
    reading = read_workbook(workbook(("A", 5, *range(200), 4.9), header=("sample", "added", *extra, "found")))
    assert str(reading.cell(2, "found")).endswith("!GU2")
    assert found(reading) == [4.9]


def test_hidden_sheet_that_is_read_is_told(read_workbook):
    book = workbook()
    book.create_sheet("Other")
    book["Recovery"].sheet_state = "hidden"
    book.active = 1
    assert codes(read_workbook(book, sheet="Recovery")) == ["sheet-hidden"]


def entry_workbook(**changes) -> openpyxl.Workbook:
    pairs = {"workbook": "entry workbook, form 1", "protocol": "OTA-1", "edition": "2", "design hash": "ab" * 32}
    book = workbook(title="recovery")
    about = book.create_sheet("about", 0)
    for pair in (pairs | changes).items():
        about.append(pair)
    return book


MARKS = {"protocol": "OTA-1", "edition": "2", "design hash": "ab" * 32}


def test_first_page_of_an_entry_workbook_is_not_a_table(read_workbook):
    assert found(read_workbook(entry_workbook(), marks=MARKS)) == [4.9, 5.25]


@pytest.mark.parametrize(
    ("change", "code", "refused"),
    [({"edition": "1"}, "workbook-of-other-edition", True), ({"protocol": "OTA-2"}, "workbook-of-other-edition", True),
     ({"design hash": "cd" * 32}, "workbook-of-other-design", False)],
)  # fmt: skip
def test_entry_workbook_of_another_protocol_edition_or_design_is_told(read_workbook, change, code, refused):
    reading = read_workbook(entry_workbook(**change), marks=MARKS)
    assert codes(reading) == [code]
    assert (reading.reported is None) == refused


def test_columns_without_identity_have_repeats_told_by_cell(read_workbook):
    asked = (Column(role="found", title="result", type="number", unit="method"),)
    reading = read_workbook(workbook((1,), (1,), header=("found",)), asked=asked)
    assert codes(reading) == ["table-identical-rows"]


def test_reading_the_same_workbook_twice_gives_the_same_answer(read_workbook):
    content = computed(written(lambda book, sheet: sheet.write_row(1, 0, ("A", 5, 4.9))))
    first, second = read_workbook(content), read_workbook(content)
    assert first.reported.frame.equals(second.reported.frame)
    assert (first.problems, first.content) == (second.problems, content)
