"""The working of the findings: a formula once, then for each level the sum, the limits and what they rest on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

from markupsafe import Markup

from validate.dossier import numbers
from validate.dossier.context import SymbolView, WorkingRow, WorkingView
from validate.dossier.formula import filled, symbolic, symbols
from validate.vocabulary.evaluation import StudyEvaluation
from validate.vocabulary.finding import Finding, FindingKind, LimitsWorking, Symbol, Working
from validate.vocabulary.limits import GENERAL_SYMBOLS

DIGITS = numbers.CALCULATOR - 2
"""Significant digits of a result, where `CALCULATOR` digits are put in."""
FEW_MEANINGS = 2
"""As many meanings of one symbol at different levels are told with the formula, more with the levels."""
Anchor = Callable[[Finding, str], str]
"""A finding and a prefix → anchor."""


def with_working(study: StudyEvaluation, names: Sequence[str] | None = None) -> list[Finding]:
    """The findings as reported that can be redone, or those of them with these names."""
    return [
        finding
        for finding in study.as_reported.findings
        if finding.working and finding.value is not None and (names is None or finding.name in names)
    ]


def rows_of_levels(findings: Iterable[Finding]) -> dict[str | None, str]:
    """For each level the rows of the table that most of its findings came from."""
    texts: dict[str | None, Counter[str]] = {}
    for finding in findings:
        texts.setdefault(finding.level, Counter())[_rows(finding)] += 1
    most = {level: counted.most_common(1)[0] for level, counted in texts.items()}
    return {level: text for level, (text, count) in most.items() if text and count > 1}


def workings(
    findings: Sequence[Finding],
    kinds: dict[str, FindingKind],
    anchor: Anchor,
    level_text: Callable[[str | None], str],
    told: dict[str | None, str],
) -> list[WorkingView]:
    """One view for the findings that share name, formula and the arithmetic of their limits.

    `told` are the rows of `rows_of_levels` that stand above; a finding with others tells them.
    """
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        limits = _limits(finding)
        names = tuple(symbol.printed for symbol in limits.symbols) if limits else ()
        ends = (limits.low, limits.high) if limits else ()
        groups.setdefault((finding.name, finding.working.expression, ends, names), []).append(finding)
    return [_view(group, kinds[group[0].name], anchor, level_text, told) for group in groups.values()]


def _view(
    group: Sequence[Finding],
    kind: FindingKind,
    anchor: Anchor,
    level_text: Callable[[str | None], str],
    told: dict[str | None, str],
) -> WorkingView:
    first = group[0]
    shared, own = _shared([_meanings(finding.working.symbols) for finding in group])
    methods = dict.fromkeys(i.method for finding in group if (i := finding.interval("shown")))
    common = _common_values(group)
    return WorkingView(
        title=kind.title,
        symbol=kind.symbol,
        formula=symbolic(first.working),
        limits=_symbolic_limits(first, kind.symbol),
        symbols=tuple(SymbolView(*symbol, value="") for symbol in shared),
        limit_symbols=_limit_symbols(first, common),
        words=symbols("; ".join(dict.fromkeys(part for finding in group for part in _beside_formula(finding, kind)))),
        interval_method="; ".join(methods),
        source="; ".join(dict.fromkeys(finding.source for finding in group)),
        rows=tuple(
            WorkingRow(
                anchor=anchor(finding, "working"),
                finding_anchor=anchor(finding, "finding"),
                level=level_text(finding.level),
                filled=filled(finding.working),
                value=numbers.significant(finding.value, DIGITS),
                unit="" if finding.unit == "1" else finding.unit,
                symbols=tuple(SymbolView(*symbol, value="") for symbol in extra),
                limits=_limits_text(finding),
                rests_on=_rests_on(finding, common),
                rows="" if told.get(finding.level) == _rows(finding) else _rows(finding),
            )
            for finding, extra in zip(group, own, strict=True)
        ),
    )


def _beside_formula(finding: Finding, kind: FindingKind) -> list[str]:
    """What the words on the formula say beyond the formula itself, which stands above with its symbols."""
    printed = finding.working.expression
    for symbol in finding.working.symbols:
        printed = printed.replace(f"{{{symbol.name}}}", symbol.printed)
    return [
        part
        for part in finding.formula.split("; ")
        if not part.startswith(f"{kind.symbol} =") and "±" not in part and part not in (printed, kind.title)
    ]


def _limits(finding: Finding) -> LimitsWorking | None:
    shown = finding.interval("shown")
    return shown.working if shown else None


def _limits_text(finding: Finding) -> str:
    shown = finding.interval("shown")
    if shown is None or (shown.low is None and shown.high is None):
        return ""
    low, high = ("" if end is None else numbers.significant(end, DIGITS) for end in (shown.low, shown.high))
    return f"{low} to {high}" if low and high else f"above {low}" if low else f"below {high}"


def _symbolic_limits(finding: Finding, symbol: str) -> Markup:
    limits = _limits(finding)
    if limits is None:
        return Markup("")
    value = Symbol(name="value", printed=symbol, meaning="", value=0.0, unit="")
    low, high = (
        symbolic(Working(expression=end, symbols=(value, *limits.symbols))) for end in (limits.low, limits.high)
    )
    return Markup("{} to {}").format(low, high)


def _common_values(group: Sequence[Finding]) -> dict[str, str]:
    """Printed symbol → value of what the limits rest on at every level alike; they are told once."""
    limits = [_limits(finding) for finding in group]
    if limits[0] is None or len(group) == 1:
        return {}
    first = {s.printed: numbers.calculator(s.value) for s in limits[0].symbols}
    alike = [{s.printed: numbers.calculator(s.value) for s in each.symbols} for each in limits if each]
    return {name: text for name, text in first.items() if all(each[name] == text for each in alike)}


def _limit_symbols(finding: Finding, common: dict[str, str]) -> tuple[SymbolView, ...]:
    """Symbols of the limits that have one value at every level, or a meaning that is not told above all workings."""
    limits, known = _limits(finding), {symbol.printed for symbol in finding.working.symbols}
    return tuple(
        SymbolView(
            s.printed,
            "" if GENERAL_SYMBOLS.fullmatch(s.name) else s.meaning,
            "" if s.unit == "1" else s.unit,
            common.get(s.printed, ""),
        )
        for s in (limits.symbols if limits else ())
        if s.printed not in known and (s.printed in common or not GENERAL_SYMBOLS.fullmatch(s.name))
    )


def _rests_on(finding: Finding, common: dict[str, str]) -> Markup:
    """Symbol and value of what the limits rest on, where it differs between the levels and is not in the sum."""
    limits, known = _limits(finding), {symbol.printed for symbol in finding.working.symbols}
    equals = f"{numbers.NO_BREAK_SPACE}={numbers.NO_BREAK_SPACE}"
    return symbols(
        ", ".join(
            f"{symbol.printed}{equals}{numbers.calculator(symbol.value)}"
            for symbol in (limits.symbols if limits else ())
            if symbol.printed not in common and symbol.printed not in known
        )
    )


def _meanings(found: Iterable[Symbol]) -> list[tuple[str, str, str]]:
    return [(s.printed, s.meaning, "" if s.unit == "1" else s.unit) for s in found]


def _shared(every: Sequence[list[tuple[str, str, str]]]) -> tuple[list[tuple[str, str, str]], list[list]]:
    """The symbols that mean the same or one of few things at every level, and for each level the others."""
    shared, left = [], [list(own) for own in every]
    for place, (printed, _, unit) in enumerate(every[0]):
        column = [own[place] for own in every]
        meanings = list(dict.fromkeys(meaning for _, meaning, _ in column))
        if len(meanings) <= FEW_MEANINGS and all((p, u) == (printed, unit) for p, _, u in column):
            shared.append((printed, " or ".join(meanings), unit))
            for own, symbol in zip(left, column, strict=True):
                own.remove(symbol)
    return shared, left


def _rows(finding: Finding) -> str:
    return "; ".join(f"{rows.file}, rows {rows.ranges.replace('-', numbers.EN_DASH)}" for rows in finding.rows)
