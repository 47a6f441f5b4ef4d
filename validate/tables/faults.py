"""Faults of a table: light records while reading, problems in words when all are known.

A file can be wrong in every row. The first faults of each kind are told one by one, the
rest are counted by kind and column, so that one kind never hides another.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, Problem, ProblemCatalogue, printable

PROBLEMS = ProblemCatalogue(__file__)
MOST_OF_A_KIND = 10
MOST_TOLD = 50
LONGEST_CELL = 60


class Fault(NamedTuple):
    """Something wrong at a row (and column, counted from 1) of the file; `code` as in problems.toml."""

    code: str
    row: int | None
    column: int | None = None
    cell: str = ""
    values: Mapping[str, object] = {}


def in_words(
    faults: Iterable[Fault], table: Place, header: Sequence[str], titles: Mapping[int, str] | None = None
) -> list[Problem]:
    """The problems for `faults` of `table` (a file, or a sheet of one), errors first, in the order of its rows.

    `titles` says in plain words what a column (counted from 1) holds.
    """
    titles = titles or {}
    ordered = sorted(faults, key=lambda fault: (fault.row or 0, fault.column or 0, fault.code))
    kinds: dict[tuple[str, int | None], list[Fault]] = defaultdict(list)
    for fault in ordered:
        kinds[fault.code, fault.column].append(fault)
    told = [fault for kind in kinds.values() for fault in kind[:MOST_OF_A_KIND]]
    told.sort(key=lambda fault: (_severity(fault) != ERROR, fault.row or 0, fault.column or 0, fault.code))
    told = told[:MOST_TOLD]
    problems = [_problem(fault, table, header, titles) for fault in told]
    shown: dict[tuple[str, int | None], int] = defaultdict(int)
    for fault in told:
        shown[fault.code, fault.column] += 1
    rest = [kind[shown[key] :] for key, kind in kinds.items() if len(kind) > shown[key]]
    return problems + [_counted(kind, table, header) for kind in rest]


def _problem(fault: Fault, table: Place, header: Sequence[str], titles: Mapping[int, str]) -> Problem:
    values = {
        "cell": printable(fault.cell, LONGEST_CELL),
        "column": _name(fault.column, header),
        "title": titles.get(fault.column or 0, ""),
        **fault.values,
    }
    return PROBLEMS.problem(fault.code, _place(fault, table), **values)


def _counted(faults: Sequence[Fault], table: Place, header: Sequence[str]) -> Problem:
    first = faults[0]
    words = PROBLEMS.entries[first.code]["title"]
    where = f' in column "{_name(first.column, header)}"' if first.column else ""
    problem = PROBLEMS.problem(
        "more-of-the-same", _place(first, table), count=f"{len(faults):,}", title=words, where=where
    )
    return replace(problem, severity=_severity(first))


def _place(fault: Fault, table: Place) -> Place:
    return replace(table, line=fault.row, column=fault.column)


def _name(column: int | None, header: Sequence[str]) -> str:
    return printable(header[column - 1], LONGEST_CELL) if column and column <= len(header) else ""


def _severity(fault: Fault) -> str:
    return PROBLEMS.entries[fault.code].get("severity", ERROR)
