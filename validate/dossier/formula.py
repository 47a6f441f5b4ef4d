"""Formulas as they are printed: symbols with lowered letters, and the working with values put in."""

from __future__ import annotations

import re

from markupsafe import Markup, escape

from validate.dossier.numbers import MINUS, NO_BREAK_SPACE, calculator
from validate.dossier.text import visible
from validate.vocabulary.finding import Working

_SYMBOL = re.compile(
    r"(?<![\w.])([^\W\d_]{1,4}[\u0300-\u036f]*)"
    r"_([A-Za-z0-9α-ωΑ-Ω]{1,14}(?:,[A-Za-z0-9]{1,6})*)(?![^\W²³]|\.\w)"
)
_SYMBOL_IN_PROSE = re.compile(r"(?<![\w.-])([EUstuxσ]|P?RSD)_([A-Za-z]{1,4})(?![\w-]|\.\w)")
"""Fewer than in titles and formulas: a code such as C_0931 or lab_a stays as it was written."""
_MINUS_IN_PROSE = re.compile(r"(?<![^\s(\[|=])-(?=\d)")
WORD_JOINER = "\u2060"
_BRACED = re.compile(r"\{(\w+)\}")
_POWER = re.compile(r"\^([−-]?\d+(?:\.\d+)?|\((?:[^()]|\([^()]*\))*\)|<i class=\"sym\">.*?</i>)")


def symbols(text: str) -> Markup:
    """`s_r` with a lowered r, `x^2` with a raised 2; everything else escaped."""
    marked = _SYMBOL.sub(r"\1<sub>\2</sub>", str(escape(visible(text))))
    return Markup(_raise_powers(marked))


def unbroken(text: str, unit: str) -> Markup:
    """Escaped text with lowered letters in symbols; no line ends between a number and `unit` or %, nor at its slash."""
    marked = _SYMBOL_IN_PROSE.sub(r"\1<sub>\2</sub>", str(escape(visible(text))))
    marked = _MINUS_IN_PROSE.sub(MINUS, marked)
    for word in filter(None, ("%", str(escape(visible(unit))))):
        figure = re.compile(rf"(\d)[ {NO_BREAK_SPACE}]{re.escape(word)}(?!\w)")
        kept = NO_BREAK_SPACE + word.replace("/", f"/{WORD_JOINER}")
        marked = figure.sub(lambda match, kept=kept: match[1] + kept, marked)
    return Markup(marked)


def symbolic(working: Working) -> Markup:
    """The expression with its printed symbols."""
    printed = {symbol.name: f'<i class="sym">{symbols(symbol.printed)}</i>' for symbol in working.symbols}
    return _filled(working.expression, printed)


def filled(working: Working) -> Markup:
    """The expression with the values of its symbols put in, ready for a pocket calculator."""
    values = {symbol.name: _in_brackets(calculator(symbol.value)) for symbol in working.symbols}
    return _filled(working.expression, values)


def _filled(expression: str, texts: dict[str, str]) -> Markup:
    parts = [str(escape(visible(part))) for part in _BRACED.split(_minus_signs(expression))]
    pieces = [texts.get(part, part) if i % 2 else part for i, part in enumerate(parts)]
    return Markup(_raise_powers("".join(pieces)))


def _minus_signs(expression: str) -> str:
    return re.sub(r"(?<![eE])-", MINUS, expression)


def _raise_powers(text: str) -> str:
    return _POWER.sub(lambda match: f"<sup>{_minus_signs(_without_brackets(match[1]))}</sup>", text)


def _without_brackets(text: str) -> str:
    return text[1:-1] if text.startswith("(") else text


def _in_brackets(text: str) -> str:
    """A negative value or a power of ten keeps together when it is multiplied."""
    return f"({text})" if text.startswith(MINUS) or "×" in text else text
