"""Result tables as CSV and as a workbook: full numbers, the same bytes on every run."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence

from validate.vocabulary.result_table import ResultTable

LONGEST_SHEET_NAME = 31
Cell = str | float | None


def csv_bytes(table: ResultTable) -> bytes:
    """UTF-8 with comma and decimal point; numbers in full, an empty cell where there is none."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_headers(table))
    writer.writerows(["" if cell is None else repr(cell) if isinstance(cell, float) else cell for cell in row]
                     for row in table.rows)  # fmt: skip
    return stream.getvalue().encode("utf-8")


def tables_workbook(tables: Sequence[ResultTable], *, created: dt.date, title: str) -> bytes:
    """One sheet for each table, numbers as numbers; texts never become formulas or links."""
    return workbook_of({table.name[:LONGEST_SHEET_NAME]: [_headers(table), *table.rows] for table in tables},
                       created=created, title=title)  # fmt: skip


def workbook_of(sheets: dict[str, Sequence[Sequence[Cell]]], *, created: dt.date, title: str) -> bytes:
    """A workbook with rows of cells by sheet; the first row is the header."""
    from xlsxwriter import Workbook

    stream = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with Workbook(stream, options) as workbook:
        workbook.set_properties({"title": title, "created": dt.datetime(created.year, created.month, created.day)})
        bold = workbook.add_format({"bold": True})
        for name, rows in sheets.items():
            sheet = workbook.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            for number, row in enumerate(rows):
                for column, cell in enumerate(row):
                    if isinstance(cell, str):
                        sheet.write_string(number, column, cell, bold if number == 0 else None)
                    elif cell is not None:
                        sheet.write_number(number, column, cell)
    return stream.getvalue()


def _headers(table: ResultTable) -> list[str]:
    return [f"{c.title} [{c.unit}]" if c.unit else c.title for c in table.columns]
