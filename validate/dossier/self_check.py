"""The page of a self-check: every check value beside what this installation gives."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from validate.dossier import numbers
from validate.dossier.html import FOLDER, page_styles
from validate.dossier.self_check_words import summary_sentences
from validate.dossier.text import finalize
from validate.vocabulary.check import Figure, Outcome
from validate.vocabulary.self_check import Installation, SelfCheck

ALL_DIGITS = 15
KINDS = {
    "certified": "certified by a metrology institute",
    "published": "published, read in the document or a copy of it",
    "independent": "computed by other software or in high-precision arithmetic",
    "by hand": "worked out by hand",
    "constructed": "constructed from the rule that the source states",
    "from memory": "published, quoted from memory: look it up before citing it",
}


@dataclass(frozen=True)
class Pair:
    label: str
    text: str


@dataclass(frozen=True)
class FigureRow:
    """One figure: where it stands in the check, as printed, as computed, digits that agree, a remark."""

    name: str
    expected: str
    obtained: str
    digits: str
    remark: str


@dataclass(frozen=True)
class CheckView:
    """One source with its figures. `causes` explain its deviations; `words` are the outcome in short."""

    anchor: str
    title: str
    passes: bool
    words: str
    facts: tuple[Pair, ...]
    notes: tuple[str, ...]
    rows: tuple[FigureRow, ...]
    causes: tuple[Pair, ...]
    kind: str
    figures: str
    agreed: str
    deviations: str
    fewest_digits: str


@dataclass(frozen=True)
class SelfCheckView:
    """The whole page."""

    software: str
    passes: bool
    sentences: tuple[str, ...]
    altered: tuple[str, ...]
    installation: tuple[Pair, ...]
    installed_files: str
    kinds: tuple[Pair, ...]
    calls: str
    checks: tuple[CheckView, ...]


def render_page(found: SelfCheck) -> bytes:
    """The page as one self-contained HTML file in the look of the dossier; every text is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finalize,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template("self_check.html").render(view=view(found), styles=page_styles()).encode("utf-8")


def view(found: SelfCheck) -> SelfCheckView:
    """Everything that the page prints, as text."""
    kinds = Counter(outcome.check.kind for outcome in found.outcomes)
    calls = {case.call for outcome in found.outcomes for case in outcome.check.cases}
    return SelfCheckView(
        software=found.installation.software,
        passes=found.passes,
        sentences=(*summary_sentences(found.summary), _record_sentence(found.installation)),
        altered=found.installation.altered,
        installation=(
            Pair("Platform", found.installation.platform),
            Pair("Versions", ", ".join(f"{name} {text}" for name, text in found.installation.versions)),
            Pair("Files", numbers.whole(found.installation.files)),
        ),
        installed_files=found.installation.installed_files,
        kinds=tuple(Pair(f"{kinds[kind]} {kind}", words) for kind, words in KINDS.items() if kinds[kind]),
        calls=", ".join(sorted(calls)),
        checks=tuple(_check(outcome) for outcome in found.outcomes),
    )


def _record_sentence(installation: Installation) -> str:
    if not installation.recorded:
        return "The installer left no record of the files, as when the software runs from its source folder."
    if installation.altered:
        return f"{len(installation.altered)} files are missing or not as they were installed."
    return "Every file is as the installer recorded it."


def _check(outcome: Outcome) -> CheckView:
    check, figures = outcome.check, outcome.figures
    agreed = sum(figure.agrees for figure in figures)
    return CheckView(
        anchor=f"check-{check.id}",
        title=check.title,
        passes=outcome.passes,
        words="agrees" if outcome.passes else "does not agree",
        facts=(
            Pair("Source", check.citation),
            Pair("Obtained", check.obtained),
            Pair("Kind", f"{check.kind}: {KINDS[check.kind]}"),
            Pair("Licence", check.licence),
        ),
        notes=check.notes,
        rows=tuple(_row(figure) for figure in figures),
        causes=tuple(Pair(_name(figure), figure.cause or "") for figure in figures if figure.deviates and figure.cause),
        kind=check.kind,
        figures=numbers.whole(len(figures)),
        agreed=numbers.whole(agreed),
        deviations=numbers.whole(sum(figure.agrees and figure.deviates for figure in figures)),
        fewest_digits=_digits(min((figure.digits_agreed for figure in figures), default=0.0)),
    )


def _row(figure: Figure) -> FigureRow:
    digits = _digits(figure.digits_agreed)
    if figure.attainable_digits is not None:
        digits += f" of {_digits(figure.attainable_digits)}"
    remark = "" if figure.agrees and not figure.deviates else "deviates" if figure.agrees else "does not agree"
    return FigureRow(_name(figure), figure.printed, figure.obtained, digits if figure.computed else "–", remark)


def _name(figure: Figure) -> str:
    return figure.case if figure.name == "value" else f"{figure.case}: {figure.name}"


def _digits(digits: float) -> str:
    return str(ALL_DIGITS) if digits >= ALL_DIGITS else numbers.plain(numbers.rounded(digits, -1))
