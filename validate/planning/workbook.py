"""The entry workbook (XLSX): one sheet a table, everything locked but the cells to be filled.

Layout, on which the reader of workbooks relies:

* The first sheet, `about`, is visible and locked. Column A holds a name, column B a text,
  one pair a row from row 1: `workbook` = `entry workbook, form 1`; `protocol` = id;
  `edition`; `title`; `issued`; `design hash` = 64 hexadecimal digits of
  `validate.provenance.design.design_hash`; `seed`; then one row `sheet NAME` = study for
  each table, and notes for the reader.
* Every other sheet is one table. Its name is the study's name (cut to 31 characters and made
  unique with `~2` where two would be equal); the protocol takes it as
  `data: {file: entry.xlsx, sheet: NAME}`.
* Row 1 holds the column names: as `data: {columns: …}` maps them where the protocol has a
  mapping, else the roles of the study's columns. A column with a unit has it behind the
  name, in square brackets after one space: `found [µg/kg]`. The reader takes ` [ … ]` at
  the end of a name for the unit and strips it; the unit is that of `data: {units: …}`, else
  that of the column. There is no second header row.
* From row 2 on there is one row a result. Cells known from the plan are filled and locked
  (levels as numbers, all else as text); cells to be filled are open. Open cells of labels
  and dates have the format `@`, so that a spreadsheet program keeps what was typed. Rows are
  in the order of the bench sheet. There are no formulas, macros, links or empty rows between.
* A number that may be censored (`<2`, `n.d.`) warns about other texts instead of refusing them.
* Sheets are protected without a password: against slips, not against intent.
* The comment of the archive is the SHA-256 of its parts. A program that saves the workbook
  drops it or does not renew it: so a workbook into which nobody has typed can be told.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import zipfile
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from validate.tables.table import Column
from validate.vocabulary.bench import Entry

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.worksheet import Worksheet

FORM = "entry workbook, form 1"
FILE_NAME = "entry.xlsx"
LONGEST_SHEET_NAME = 31
LONGEST_LIST = 255
LONGEST_PROMPT = 255
LARGEST_BYTES = 100_000_000
MARKS = "<2, n.d. or NA"


@dataclass(frozen=True)
class SheetColumn:
    """One column of a sheet: its header, and how its cells are filled."""

    header: str
    column: Column
    entry: Entry


@dataclass(frozen=True)
class EntrySheet:
    """One table: its columns, and for each row the texts that are known, by role."""

    name: str
    study: str
    columns: tuple[SheetColumn, ...]
    rows: tuple[Mapping[str, str], ...]


def sheet_names(studies: Sequence[str]) -> dict[str, str]:
    """Study → sheet: its name cut to 31 characters, with ~2, ~3 … where two would be equal.

    >>> sheet_names(["a" * 40, "a" * 41])["a" * 41]
    'aaaaaaaaaaaaaaaaaaaaaaaaaaaaa~2'
    """
    names: dict[str, str] = {}
    for study in studies:
        name, number = study[:LONGEST_SHEET_NAME], 1
        while name in names.values() or name == "about":
            number += 1
            mark = f"~{number}"
            name = study[: LONGEST_SHEET_NAME - len(mark)] + mark
        names[study] = name
    return names


def workbook_bytes(
    about: Sequence[tuple[str, str]], sheets: Iterable[EntrySheet], *, created: dt.date, title: str
) -> bytes:
    """The workbook; equal input gives equal bytes. `about` are the pairs of the first sheet, `created` its date."""
    from xlsxwriter import Workbook

    stream = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with Workbook(stream, options) as workbook:
        workbook.set_properties({"title": title, "created": dt.datetime(created.year, created.month, created.day)})
        first = workbook.add_worksheet("about")
        formats = _formats(workbook)
        lists = _Lists(first)
        _write_about(first, about, formats)
        for sheet in sheets:
            _write_sheet(workbook.add_worksheet(sheet.name), sheet, formats, lists)
    with zipfile.ZipFile(stream, "a") as archive:
        archive.comment = _digest(archive)
    return stream.getvalue()


def is_untouched(content: bytes) -> bool:
    """Whether a workbook is as it was written here: nobody has saved anything in it."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(member.file_size for member in archive.infolist()) > LARGEST_BYTES:
                return False
            return bool(archive.comment) and archive.comment == _digest(archive)
    except (zipfile.BadZipFile, OSError, EOFError, ValueError, zlib.error, RuntimeError, NotImplementedError):
        return False


def _digest(archive: zipfile.ZipFile) -> bytes:
    digest = hashlib.sha256()
    for name in archive.namelist():
        digest.update(name.encode("utf-8") + b"\0" + archive.read(name))
    return digest.hexdigest().encode("ascii")


class _Lists:
    """Lists too long to stand in a validation: each gets a column of the first sheet, from D on."""

    def __init__(self, worksheet: Worksheet) -> None:
        self.worksheet, self.next = worksheet, 3

    def source(self, allowed: tuple[str, ...]) -> Any:
        if len(",".join(allowed)) <= LONGEST_LIST and not any("," in text for text in allowed):
            return list(allowed)
        from xlsxwriter.utility import xl_range_abs

        for row, text in enumerate(allowed):
            self.worksheet.write_string(row, self.next, text)
        self.worksheet.set_column(self.next, self.next, None, None, {"hidden": True})
        area = xl_range_abs(0, self.next, len(allowed) - 1, self.next)
        self.next += 1
        return f"=about!{area}"


def _formats(workbook: Workbook) -> dict[str, Any]:
    head = {"bold": True, "text_wrap": True, "valign": "bottom", "bottom": 1}
    return {
        "head": workbook.add_format(head),
        "name": workbook.add_format({"bold": True, "valign": "top"}),
        "text": workbook.add_format({"text_wrap": True, "valign": "top"}),
        "known": workbook.add_format({"font_color": "#55555A"}),
        "open number": workbook.add_format({"locked": False, "border": 1, "border_color": "#B9B9BD"}),
        "open text": workbook.add_format({"locked": False, "num_format": "@", "border": 1, "border_color": "#B9B9BD"}),
    }


def _write_about(worksheet: Worksheet, about: Sequence[tuple[str, str]], formats: Mapping[str, Any]) -> None:
    for row, (name, text) in enumerate(about):
        worksheet.write_string(row, 0, name, formats["name"])
        worksheet.write_string(row, 1, text, formats["text"])
    worksheet.set_column(0, 0, 28)
    worksheet.set_column(1, 1, 90)
    worksheet.protect("", {"format_columns": True})


def _write_sheet(worksheet: Worksheet, sheet: EntrySheet, formats: Mapping[str, Any], lists: _Lists) -> None:
    for position, column in enumerate(sheet.columns):
        worksheet.write_string(0, position, column.header, formats["head"])
        worksheet.set_column(position, position, max(10, len(column.header) + 2))
        is_open = column.entry.filled != "plan"
        for row, known in enumerate(sheet.rows, start=1):
            _write_cell(worksheet, row, position, column, known.get(column.entry.role, ""), formats)
        if is_open and sheet.rows:
            rule = _rule(column, lists)
            worksheet.data_validation(1, position, len(sheet.rows), position, rule)
    worksheet.freeze_panes(1, 1)
    worksheet.repeat_rows(0)
    worksheet.set_landscape()
    worksheet.set_paper(9)
    worksheet.fit_to_pages(1, 0)
    worksheet.protect("", {"format_columns": True, "format_rows": True})


def _write_cell(
    worksheet: Worksheet, row: int, position: int, column: SheetColumn, text: str, formats: Mapping[str, Any]
) -> None:
    numeric = column.column.type in ("number", "level")
    chosen = formats["known" if column.entry.filled == "plan" else "open number" if numeric else "open text"]
    if not text:
        worksheet.write_blank(row, position, None, chosen)
    elif numeric:
        worksheet.write_number(row, position, float(text), chosen)
    else:
        worksheet.write_string(row, position, text, chosen)


def _rule(column: SheetColumn, lists: _Lists) -> dict[str, Any]:
    """The validation of the open cells of a column, with its title as the prompt."""
    entry, kind = column.entry, column.column
    rule: dict[str, Any] = {
        "input_title": column.header[:32],
        "input_message": _prompt(column)[:LONGEST_PROMPT],
        "ignore_blank": True,
    }
    if entry.allowed:
        return rule | {"validate": "list", "source": lists.source(entry.allowed)}
    if kind.type not in ("number", "level"):
        return rule | {"validate": "any"}
    low, high = _lowest(entry, kind), entry.high
    wanted = _range_words(low, high)
    rule |= {
        "validate": "decimal",
        "error_title": "A second look" if kind.censored else "Not possible",
        "error_message": (f"{wanted} is expected" + (f", or {MARKS}. Keep it?" if kind.censored else "."))[
            :LONGEST_PROMPT
        ],
        "error_type": "warning" if kind.censored else "stop",
    }
    if low is not None and high is not None:
        return rule | {"criteria": "between", "minimum": low, "maximum": high}
    if high is not None:
        return rule | {"criteria": "<=", "value": high}
    return rule | {"criteria": ">=", "value": low if low is not None else -1e300}


def _lowest(entry: Entry, column: Column) -> float | None:
    known = [low for low in (entry.low, column.minimum) if low is not None]
    return max(known) if known else None


def _range_words(low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f"A number from {low:g} to {high:g}"
    if low is not None:
        return f"A number of {low:g} or more"
    return "A number" if high is None else f"A number of {high:g} or less"


def _prompt(column: SheetColumn) -> str:
    words = column.column.title[:1].upper() + column.column.title[1:]
    if column.column.censored:
        words += f". Below the limit: {MARKS}; never 0"
    return words + "."
