"""The raw listing shows what the file holds, with the rows that messages and findings name."""

from __future__ import annotations

import io

import openpyxl

from validate.tables.listing import listing


def rows(count: int) -> bytes:
    return b"a;b\r\n" + b"".join(b"%d;2\r\n" % i for i in range(2, count + 1))


def test_five_thousand_rows_are_whole():
    shown = listing(rows(5_000))
    assert (len(shown.lines), shown.omitted, shown.sentence) == (5_000, 0, "")
    assert shown.lines[-1] == (5_000, "5000;2")


def test_longer_files_show_the_first_and_last_hundred_and_say_so():
    shown = listing(rows(5_001))
    assert [n for n, _ in shown.lines] == [*range(1, 101), *range(4_902, 5_002)]
    assert shown.omitted == 4_801
    assert "Rows 101 to 4,901" in shown.sentence


def test_line_breaks_in_quotes_do_not_shift_the_rows():
    assert listing(b'a,b\n"x\r\ny",1\n\nz,2\n').lines == ((1, "a,b"), (2, '"x⏎y",1'), (3, ""), (4, "z,2"))


def test_bytes_that_are_no_text_are_still_listed():
    assert listing(b"a,\x81\n", encoding="utf-8").lines == ((1, "a,�"),)
    assert listing("µ;1\n".encode("cp1252")).lines == ((1, "µ;1"),)


def workbook(*sheets: str) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name in sheets:
        sheet = book.create_sheet(name)
        for row in (("sample", "found [µg/kg]"), ("A\nB", 4.9), (), ("C", None, "late")):
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_sheet_is_listed_as_stored_with_its_own_rows():
    shown = listing(workbook("Recovery"))
    assert shown.sheet == "Recovery"
    assert shown.lines == ((1, "sample\tfound [µg/kg]"), (2, "A⏎B\t4.9"), (4, "C\t\tlate"))


def test_sheet_is_chosen_by_name_and_its_absence_is_said():
    content = workbook("Recovery", "Blanks")
    assert listing(content, sheet="Blanks").sheet == "Blanks"
    for sheet in (None, "blanks"):
        assert listing(content, sheet=sheet).lines == ()
        assert listing(content, sheet=sheet).sentence.startswith("Not listed")


def test_damaged_workbook_is_not_listed_and_says_why():
    assert listing(workbook("Recovery")[:200]).sentence == "Not listed: Damaged workbook."
