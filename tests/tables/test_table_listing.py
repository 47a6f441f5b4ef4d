"""The raw listing shows what the file holds, with the rows that messages and findings name."""

from __future__ import annotations

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
