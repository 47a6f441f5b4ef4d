"""Whatever the bytes are, reading ends soon, with a table or with problems."""

from __future__ import annotations

import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from validate.tables.cells import read_date_cell, read_level_cell, read_number_cell
from validate.tables.listing import listing
from validate.vocabulary.problem import ERROR

# The file is written anew for each example, so the folder may be shared.
shared_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
pieces = st.sampled_from(
    ["sample", "added", "found", "day", ",", ";", "\t", "\n", "\r\n", '"', '""', "5", "4.9", "4,9", "<2", "n.d.", "NA",
     "1-Mar", "=A1", "µ", "\ufeff", "\x00", "\u2028", "\x1b", " ", "%", "-", "1e9", "∞",
     "sample,added,found\nA,5,4.9\n"]
)  # fmt: skip


def answers(reading) -> bool:
    errors = [p for p in reading.problems if p.severity == ERROR]
    assert bool(errors) == (reading.reported is None) == (reading.recorded is None)
    assert len(reading.problems) < 300
    for problem in reading.problems:
        assert str(problem)
    if reading.reported is not None:
        assert reading.reported.frame.index.is_unique
        assert reading.reported.frame.shape == reading.reported.marks.shape
    return True


@shared_folder
@given(content=st.binary(max_size=300))
def test_any_bytes_end_in_a_table_or_in_problems(read, content):
    assert answers(read(content))
    assert listing(content).omitted == 0


@shared_folder
@given(parts=st.lists(pieces, max_size=40), head=st.booleans())
def test_anything_like_a_table_ends_in_a_table_or_in_problems(read, parts, head):
    content = ("sample,added,found\n" * head + "".join(parts)).encode("utf-8")
    assert answers(read(content, exclusions=[{"where": {"sample": "A", "found": "4.9"}}]))
    assert answers(read(content, decimal=",", delimiter=";", amendments=[
        {"where": {"sample": "A"}, "column": "found", "old": "4.9", "new": "5"}]))  # fmt: skip


@given(cell=st.text(max_size=30), decimal=st.sampled_from([".", ","]))
def test_any_cell_is_a_value_a_mark_or_a_reason(cell, decimal):
    for factor in (1.0, 0.001):
        for read in (
            read_number_cell(cell, decimal=decimal, factor=factor, minimum=0, censored=True),
            read_level_cell(cell, decimal=decimal, factor=factor, minimum=None),
            read_date_cell(cell),
        ):
            assert (read.value is not None) + bool(read.code) + bool(read.mark) == 1 or cell == ""


HEADER = b"sample,added,found\n"
MEGABYTES = 1_000_000


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"x" * (50 * MEGABYTES), "table-line-too-long"),
        (b"," * (50 * MEGABYTES), "table-line-too-long"),
        (HEADER + b"x" * (50 * MEGABYTES), "table-line-too-long"),
        (HEADER + b'"' * (2 * MEGABYTES), "table-line-too-long"),
        (HEADER + b'"A,5,4\n' + b"B,5,5\n" * 500_000, "table-quote-open"),
        (HEADER + b'"A"B,5,4\n' * 300_000, "table-quote"),
        (b",".join(b"c%d" % i for i in range(1_001)) + b"\n", "table-too-wide"),
        (HEADER + b"A,5,4\n" * 1_010_000, "table-too-long"),
        (HEADER + b"A,5\n" * 300_000, "table-ragged"),
        (b"x" * (64 * MEGABYTES + 1), "file-too-large"),
        (HEADER + b"A,5," + b"9" * 90_000 + b"\n", "cell-not-finite"),
        (HEADER + b"A,5," + b"1," * 40_000 + b"\n", "table-ragged"),
        (HEADER + b"A,5," + b"1;" * 45_000 + b"\n", "cell-no-number"),
    ],
    ids=["letters", "separators", "row", "quotes", "open", "misplaced", "wide", "long", "ragged", "size", "digits",
         "cells", "pieces"],
)  # fmt: skip
def test_large_and_damaged_files_are_answered_within_seconds(read, content, code):
    start = time.perf_counter()
    reading = read(content)
    assert code in [p.code for p in reading.problems]
    assert answers(reading)
    assert time.perf_counter() - start < 20
