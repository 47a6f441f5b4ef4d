"""Whether an entry workbook was made for this protocol: its first sheet, `about`, says for which.

The layout of that sheet is fixed by the room that writes it: a name in column A, its text
in column B, from row 1; the first pair is `workbook` = `entry workbook, form 1`.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import islice

from validate.tables.faults import PROBLEMS
from validate.tables.workbook import SheetEntry, Workbook
from validate.tables.worksheet import SheetForm, sheet_rows
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem

ABOUT = "about"
FORM = "entry workbook, form"
ID, EDITION, DESIGN = "protocol", "edition", "design hash"
_MOST_PAIRS = 700


def marked_sheet(workbook: Workbook) -> SheetEntry | None:
    """The first page of an entry workbook; None in any other workbook."""
    first = workbook.sheets[0]
    return first if first.name == ABOUT and _pairs(workbook, first).get("workbook", "").startswith(FORM) else None


def mark_problems(workbook: Workbook, shown: str, marks: Mapping[str, str]) -> tuple[Problem, ...]:
    """Another protocol or edition is an error; another design of the same edition is told.

    `marks` holds the protocol's own `protocol`, `edition` and `design hash`; what it lacks is not compared.
    """
    about = marked_sheet(workbook)
    if about is None:
        return ()
    pairs, place = _pairs(workbook, about), Place(shown, sheet=about.name)
    differing = [key for key in (ID, EDITION, DESIGN) if marks.get(key) and pairs.get(key, "") != marks[key]]
    if not differing:
        return ()
    if differing == [DESIGN]:
        return (PROBLEMS.problem("workbook-of-other-design", place),)
    made, this = (f"{of.get(ID, '')}, edition {of.get(EDITION, '')}" for of in (pairs, marks))
    return (PROBLEMS.problem("workbook-of-other-edition", place, made=made, this=this),)


def _pairs(workbook: Workbook, sheet: SheetEntry) -> dict[str, str]:
    pairs = {}
    for row in islice(sheet_rows(workbook, sheet, SheetForm()), _MOST_PAIRS):
        texts = {column: text.strip() for column, text, _ in row.cells}
        if 0 in texts and 1 in texts:
            pairs.setdefault(texts[0], texts[1])
    return pairs
