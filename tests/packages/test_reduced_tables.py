"""A table that loses columns, contents and the order of its rows keeps the text of its cells."""

from __future__ import annotations

import datetime as dt
import io

import openpyxl
import pytest

from validate.protocol.settings import DataSource
from validate.tables.rewriting import rewritten
from validate.tables.writing import csv_bytes, workbook_of
from validate.vocabulary.result_table import ResultTable, TableColumn

CREATED = dt.date(2031, 3, 3)


def reduced(content: bytes, *, keep=(0, 1), order_by: int | None = 0, changed=None, marked=None, **source: object):
    return rewritten(content, DataSource(**source), keep=keep, numbers=(1,), created=CREATED, order_by=order_by,
                     changed=changed, marked=marked)  # fmt: skip


def test_chosen_columns_stay_with_their_text_and_the_others_leave():
    content = b"who;Lab;result [mg/kg];comment\nAnna;L10;0,50;late\nBert;L2;<0,2;\n"
    found = reduced(content, keep=(1, 2), order_by=1, file="t.csv", decimal=",", delimiter=";")
    assert found.decode() == "Lab;result [mg/kg]\nL2;<0,2\nL10;0,50\n"


def test_without_a_column_to_order_by_rows_stay_as_they_are():
    assert reduced(b"u,r,x\nL2,1,a\nL1,2,b\n", order_by=None, file="t.csv") == b"u,r\nL2,1\nL1,2\n"


def test_cells_are_changed_and_rows_marked_by_their_row_in_the_file():
    content = b"laboratory,result\nLower Farm,1\n\nL1,2\n"
    found = reduced(content, file="t.csv", changed={(2, 0): "L9"}, marked={"exclusion 1": (4,)})
    assert found == b"laboratory,result,exclusion 1\nL1,2,yes\nL9,1,\n"


def test_any_order_of_rows_gives_the_same_bytes():
    head, *rows = ["laboratory,result,comment", "L1,3,x", "L1,2,y", "L2,1,z"]
    one = reduced("\n".join([head, *rows]).encode(), file="t.csv")
    assert one == reduced("\n".join([head, *rows[::-1]]).encode(), file="t.csv")


def test_a_declared_encoding_is_kept_so_that_the_protocol_still_reads_the_table():
    content = "laboratory,result,comment\nLä,1,x\n".encode("cp1252")
    assert reduced(content, file="t.csv", encoding="cp1252") == "laboratory,result\nLä,1\n".encode("cp1252")


def test_a_workbook_stays_a_workbook_with_numbers_as_numbers():
    rows = [["laboratory", "result", "comment", "who"], ["L2", 2.5, "late", "Anna"], ["101", "<2", None, "Bert"]]
    content = workbook_of({"Results": rows}, created=CREATED, title="t")
    sheet = openpyxl.load_workbook(io.BytesIO(reduced(content, file="t.xlsx", sheet="Results")))["Results"]
    assert [list(row) for row in sheet.iter_rows(values_only=True)] == [
        ["laboratory", "result"], ["101", "<2"], ["L2", 2.5]
    ]  # fmt: skip


def test_a_workbook_has_the_same_bytes_on_every_run():
    made = [workbook_of({"a": [["x"], [1.0]]}, created=CREATED, title="t") for _ in range(2)]
    assert made[0] == made[1]


def test_numbers_are_written_in_full_and_absent_ones_as_empty_cells():
    table = ResultTable(name="t", title="T", columns=(TableColumn(title="z"), TableColumn(title="D", unit="µg/kg")),
                        rows=((0.1 + 0.2, None), (-1e-17, "<2")))  # fmt: skip
    assert csv_bytes(table).decode() == "z,D [µg/kg]\n0.30000000000000004,\n-1e-17,<2\n"


@pytest.mark.parametrize("text", ["=1+1", "@SUM(A1)", "http://example.org"])
def test_no_text_becomes_a_formula_or_a_link(text):
    sheet = openpyxl.load_workbook(io.BytesIO(workbook_of({"a": [["x"], [text]]}, created=CREATED, title="t")))["a"]
    assert sheet["A2"].value == text and sheet["A2"].data_type == "s" and sheet["A2"].hyperlink is None
