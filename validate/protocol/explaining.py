"""What a YAML parser's complaint means to somebody who knows spreadsheets."""

from __future__ import annotations

from typing import Any

from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)

_BY_COMPLAINT_FIRST = (
    ("maximum nesting depth", "too-deep"),
    ("escape character", "bad-escape"),
    ("could not find expected ':'", "no-colon"),
)
_BY_CONTEXT = (
    ("quoted scalar", "unclosed-quote"),
    ("flow sequence", "unclosed-bracket"),
    ("flow mapping", "unclosed-bracket"),
)
_BY_COMPLAINT = (
    ("mapping values are not allowed", "colon-out-of-place"),
    ("cannot start any token", "needs-quotes"),
    ("did not find expected key", "unexpected-text"),
    ("<block end>", "unexpected-text"),
    ("<document start>", "unexpected-text"),
    ("node content", "unexpected-text"),
    ("did not find expected '-'", "unexpected-text"),
)
_STARTED_BEFORE = ("unclosed-quote", "unclosed-bracket", "no-colon", "bad-escape")


def explain_syntax(error: Any, text: str, file: str) -> Problem:
    """The problem for a parser error: placed where the reader must look, with what to do."""
    said, context = str(getattr(error, "problem", "") or ""), str(getattr(error, "context", "") or "")
    mark = getattr(error, "problem_mark", None)
    if mark is None:
        return PROBLEMS.problem("not-yaml", Place(file), said=said)
    lines = text.splitlines()
    line = lines[mark.line] if mark.line < len(lines) else ""
    place = Place(file, mark.line + 1, mark.column + 1)
    if "\t" in line[: len(line) - len(line.lstrip())]:
        return PROBLEMS.problem("tab", Place(file, mark.line + 1, line.index("\t") + 1))
    code = _code(said, context)
    if code in _STARTED_BEFORE and error.context_mark is not None:
        place = Place(file, error.context_mark.line + 1, error.context_mark.column + 1)
        line = lines[error.context_mark.line]
    return PROBLEMS.problem(code, place, said=said, line=line.strip(), character=line[mark.column : mark.column + 1])


def _code(said: str, context: str) -> str:
    """Catalogue code for the parser's words; both parsers of PyYAML are understood."""
    known = [(code, part in said) for part, code in _BY_COMPLAINT_FIRST]
    known += [(code, part in context) for part, code in _BY_CONTEXT]
    known += [(code, part in said) for part, code in _BY_COMPLAINT]
    return next((code for code, found in known if found), "not-yaml")
