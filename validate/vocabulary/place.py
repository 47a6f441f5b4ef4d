"""Where a value stands in the user's files, so that a message can point at it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Place:
    """A position in an input file.

    `file` is the path as the user would type it, relative to the working directory or
    to the protocol's folder. In a protocol `line` and `column` count characters from 1;
    in a table `line` is the row of the file (the header is row 1) and `column` the
    column of the table, counted from 1. Without a line the whole file is meant.
    In a workbook `sheet` names the sheet, and the cell is written as a spreadsheet does.

    >>> str(Place("recovery.csv", 7, 2)), str(Place("results.xlsx", 7, 2, "Recovery"))
    ('recovery.csv:7:2', 'results.xlsx!Recovery!B7')
    """

    file: str
    line: int | None = None
    column: int | None = None
    sheet: str = ""

    def __str__(self) -> str:
        if self.sheet:
            cell = f"{letters(self.column) if self.column else ''}{self.line or ''}"
            return "!".join(part for part in (self.file, self.sheet, cell) if part)
        parts = [self.file]
        if self.line is not None:
            parts.append(str(self.line))
            if self.column is not None:
                parts.append(str(self.column))
        return ":".join(parts)


def letters(column: int) -> str:
    """A column counted from 1 as a spreadsheet names it.

    >>> letters(1), letters(28), letters(16384)
    ('A', 'AB', 'XFD')
    """
    name = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        name = chr(ord("A") + rest) + name
    return name
