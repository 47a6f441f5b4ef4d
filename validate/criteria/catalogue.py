"""The published sets that ship with the package, and their listing for `validate criteria`."""

from __future__ import annotations

import textwrap
from functools import lru_cache

from pydantic import TypeAdapter

from validate.criteria.designs import designs
from validate.criteria.entries import CriteriaSet, Entry, bound_of
from validate.criteria.reading import FOLDER, read_toml
from validate.criteria.words import bound_words
from validate.vocabulary.evaluation import CatalogueExcerpt

THE_LABORATORY = "the laboratory's own"


@lru_cache(maxsize=1)
def sets() -> tuple[CriteriaSet, ...]:
    """Every set in `sets/`, in alphabetical order of its id."""
    adapter = TypeAdapter(CriteriaSet)
    found = (adapter.validate_python(read_toml(path)) for path in (FOLDER / "sets").glob("*.toml"))
    return tuple(sorted(found, key=lambda each: each.id))


def criteria_set(name: str) -> CriteriaSet | None:
    """The set with this id, or None."""
    return next((each for each in sets() if each.id == name), None)


def excerpt(criteria: CriteriaSet) -> CatalogueExcerpt:
    """What the dossier carries of a set that was used."""
    replaced = f"Replaced by {criteria.replaced_by}." if criteria.replaced_by else ""
    return CatalogueExcerpt(
        id=criteria.id,
        title=f"{criteria.title} ({criteria.source})",
        edition=criteria.edition,
        in_force_from=criteria.in_force_from,
        in_force_until=criteria.in_force_until,
        obtained=criteria.obtained,
        note=" ".join(filter(None, (criteria.note, replaced))),
    )


def describe() -> str:
    """The catalogue as text for the terminal: sets with their bounds, then minimum designs."""
    parts = ["Published limits (write the name under `use`)", ""]
    for each in sets():
        parts += [_heading(each), *(_indented(_entry_words(entry)) for entry in each.entry), ""]
    parts += ["Minimum designs (write the name under a study's `minimum_design`)", ""]
    for design in designs():
        parts += [f"{design.id}  {design.title}", _indented(f"{design.source}, {design.clause}; {design.obtained}")]
        parts += [_indented("- " + line) for line in design.asked()]
    parts += ["", "The laboratory's own bound: write the number with `source: own`, `judge_by` and a `reason`."]
    return "\n".join(parts)


def _heading(criteria: CriteriaSet) -> str:
    dates = [f"in force from {criteria.in_force_from}"] if criteria.in_force_from else []
    dates += [f"until {criteria.in_force_until}"] if criteria.in_force_until else []
    dates += [f"replaced by {criteria.replaced_by}"] if criteria.replaced_by else []
    lines = [
        f"{criteria.id}  {criteria.title}",
        _indented(f"{criteria.source}; {criteria.obtained}; judged by the {criteria.judge_by}"),
    ]
    lines += [_indented(", ".join(dates))] if dates else []
    lines += [_indented("for " + " and ".join(criteria.intended_use) + " use only")] if criteria.intended_use else []
    lines += [_indented("Note: " + criteria.note)] if criteria.note else []
    return "\n".join(lines)


def _entry_words(entry: Entry) -> str:
    only = [", ".join(words) for words in (entry.measurands, entry.matrices) if words]
    subject = f"- {entry.finding}" + (f" ({'; '.join(only)})" if only else "")
    extra = [entry.exception.words] if entry.exception else []
    extra += [entry.note] if entry.note else []
    extra += [entry.obtained] if entry.obtained else []
    return ": ".join((subject, "; ".join((_bounds(entry), *extra)))) + f" [{entry.clause}]"


def _bounds(entry: Entry) -> str:
    unit = "× the method's limit" if entry.of_limit else entry.unit
    if entry.rows:
        times = f"{entry.factor} of the following: " if entry.factor != "1" else ""
        rows = ", ".join(f"{row.printed}: {bound_words(*bound_of(row), unit)}" for row in entry.rows)
        rule = f" (boundary rule: {entry.boundary})" if entry.boundary else ""
        return times + rows + rule
    if entry.function:
        return f"at most {entry.function.factor} × {entry.function.model}"
    return bound_words(*bound_of(entry), unit)


def _indented(text: str) -> str:
    return textwrap.fill(text, 100, initial_indent="    ", subsequent_indent="      ")
