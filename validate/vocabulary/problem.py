"""Problems: errors and notices as a catalogue, so that every message says what to do.

Each room keeps its own `problems.toml` beside its code. An entry has a `title`, a
`message` template, a `mend` template and, for a mere notice, `severity = "notice"`; `"told"`
where nothing is amiss and a reader wants to know.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from validate.vocabulary.place import Place

ERROR = "error"
NOTICE = "notice"
TOLD = "told"


@dataclass(frozen=True)
class Problem:
    """One thing wrong (or worth telling), with its place, the value seen and how to mend it."""

    code: str
    place: Place
    message: str
    mend: str
    severity: str = ERROR

    def __str__(self) -> str:
        first = f"{printable(str(self.place))}  {self.message}"
        return f"{first}\n    {self.mend}" if self.mend else first


class InputRefused(Exception):
    """The input cannot be evaluated; carries every problem that was found."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"{len(self.problems)} problem(s) in the input")

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class ProblemCatalogue:
    """The problems that one room can report: `problems.toml` in the folder of `module_file`."""

    def __init__(self, module_file: str) -> None:
        self.path = Path(module_file).with_name("problems.toml")

    @cached_property
    def entries(self) -> dict[str, dict[str, str]]:
        with self.path.open("rb") as stream:
            return tomllib.load(stream)

    def problem(self, code: str, place: Place, **values: object) -> Problem:
        """The problem `code` at `place`, its templates filled with `values`.

        Values come from the user's files: they are shortened and freed of control
        characters here, once for the terminal, the log and the page.
        """
        entry = self.entries[code]
        shown = {name: printable(str(value)) for name, value in values.items()}
        return Problem(
            code=code,
            place=place,
            message=entry["message"].format_map(shown),
            mend=entry.get("mend", "").format_map(shown),
            severity=entry.get("severity", ERROR),
        )


def printable(text: str, longest: int = 200) -> str:
    """`text` shortened, with control and direction-changing characters shown as escapes."""
    if len(text) > longest:
        text = text[: longest - 1] + "…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
