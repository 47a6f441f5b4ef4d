"""What the working prints is enough: the limits of a finding come out of the printed digits."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.working import recompute
from validate.dossier.context import WorkingRow, WorkingView
from validate.dossier.numbers import MINUS, NARROW_SPACE, NO_BREAK_SPACE, calculator
from validate.dossier.words import Words, finding_anchor
from validate.pipeline.evaluating import evaluate
from validate.pipeline.preparing import prepare
from validate.vocabulary.evaluation import Evaluation
from validate.vocabulary.finding import Finding, Symbol, Working

PROTOCOLS = Path(__file__).parents[2] / "protocols"
ONE_UNIT = 1e-4
"""One unit of the fifth digit at most, of the largest figure in the row."""
RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")


@pytest.fixture(scope="module", params=["coffee", "pastes"])
def evaluation(request: pytest.FixtureRequest) -> Evaluation:
    return evaluate(prepare(PROTOCOLS / request.param))


def test_limits_come_out_of_the_printed_figures(evaluation: Evaluation) -> None:
    """t, chi-square and MLS limits alike, and those of figures that rest on another one."""
    words, redone = Words(evaluation, lambda *_: ""), 0
    for study in evaluation.studies:
        findings = {finding_anchor(study.name, f.name, f.level, "working"): f for f in study.as_reported.findings}
        for view in words.workings(study):
            for row in view.rows if view.limits else ():
                finding = findings[row.anchor]
                known = printed_values(finding, view, row)
                limits = finding.interval("shown").working
                printed = [number(end) for end in row.limits.split(" to ")]
                room = ONE_UNIT * max(abs(number(row.value)), *map(abs, printed))
                for end, expression in zip(printed, (limits.low, limits.high), strict=True):
                    value = recompute(put_in(limits.symbols, expression, known))
                    assert value == pytest.approx(end, rel=0, abs=room), (study.name, view.title, row.level)
                redone += 1
    assert redone >= 5


def printed_values(finding: Finding, view: WorkingView, row: WorkingRow) -> dict[str, float]:
    """Symbol as printed → value: from the sum, from what is told once, and from what stands at the level."""
    texts = {symbol.printed: calculator(symbol.value) for symbol in finding.working.symbols}
    assert all(text in plain(row.filled) for text in texts.values())
    texts |= {symbol.printed: symbol.value for symbol in view.limit_symbols if symbol.value}
    equals = f"{NO_BREAK_SPACE}={NO_BREAK_SPACE}"
    texts |= dict(part.split(equals) for part in plain(row.rests_on).split(", ") if part)
    return {name.replace("_", ""): number(text) for name, text in (texts | {"value": row.value}).items()}


def put_in(symbols: tuple[Symbol, ...], expression: str, known: dict[str, float]) -> Working:
    """The expression with its symbols as they are printed; a lowered letter reads like any other."""
    printed = {symbol.name: symbol.printed for symbol in symbols} | {"value": "value"}
    return Working(
        expression=expression,
        symbols=tuple(
            Symbol(name=name, printed=printed[name], meaning="", value=known[printed[name].replace("_", "")], unit="")
            for name in dict.fromkeys(re.findall(r"\{(\w+)\}", expression))
        ),
    )


def number(text: str) -> float:
    bare = text.replace(NARROW_SPACE, "").replace(NO_BREAK_SPACE, "").replace(MINUS, "-")
    mantissa, _, power = bare.partition("×10")
    return float(mantissa) * 10.0 ** int(power.translate(RAISED) or 0)


def plain(markup: str) -> str:
    """The text of a piece of markup."""
    texts: list[str] = []
    reader = HTMLParser(convert_charrefs=True)
    reader.handle_data = texts.append  # type: ignore[method-assign]
    reader.feed(str(markup))
    reader.close()
    return "".join(texts)
