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
    """

    file: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        parts = [self.file]
        if self.line is not None:
            parts.append(str(self.line))
            if self.column is not None:
                parts.append(str(self.column))
        return ":".join(parts)
