"""Evaluate the working of a finding, as a reader with a pocket calculator would.

The grammar is the one that `validate.vocabulary.finding.Working` documents:

    sum      = product { ("+" | "−" | "-") product }
    product  = signed { ("·" | "/") signed }
    signed   = [ "−" | "-" | "+" ] power
    power    = atom [ "^" signed ]
    atom     = number | {name} | "(" sum ")" | "√(" sum ")" | ("max" | "min") "(" sum "," sum ")"

so `−2^2` is −4 and `2^3^2` is 512, as in print. Nothing else is understood: no names,
no attributes, no Python.
"""

from __future__ import annotations

import math
import re

from validate.vocabulary.finding import Finding, Working

_TOKEN = re.compile(r"\s*(?:(\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)|\{(\w+)\}|(max|min)|([-−+·/^(),√]))")
_MINUS = ("-", "−")


def recompute(working: Working) -> float:
    """The value of the expression with the values of its symbols put in.

    Raises ValueError for anything outside the grammar, for a symbol that is not listed, for
    one that is listed twice or never used, and for a root of a negative number.
    """
    values = {symbol.name: symbol.value for symbol in working.symbols}
    if len(values) != len(working.symbols):
        raise ValueError("a symbol is listed twice")
    parser = _Parser(working.expression, values)
    result = parser.whole()
    unused = sorted(set(values) - parser.used)
    if unused:
        raise ValueError(f"symbols without a place in the expression: {', '.join(unused)}")
    return result


class _Parser:
    def __init__(self, expression: str, values: dict[str, float]) -> None:
        self.tokens = _tokens(expression)
        self.position = 0
        self.values = values
        self.used: set[str] = set()

    def whole(self) -> float:
        value = self.sum()
        if self.position != len(self.tokens):
            raise ValueError(f"unexpected {self.tokens[self.position]!r}")
        return value

    def sum(self) -> float:
        value = self.product()
        while self.next_is("+", *_MINUS):
            value = value + self.product() if self.take() == "+" else value - self.product()
        return value

    def product(self) -> float:
        value = self.signed()
        while self.next_is("·", "/"):
            value = value * self.signed() if self.take() == "·" else value / self.signed()
        return value

    def signed(self) -> float:
        if self.next_is(*_MINUS):
            self.take()
            return -self.power()
        if self.next_is("+"):
            self.take()
        return self.power()

    def power(self) -> float:
        base = self.atom()
        if self.next_is("^"):
            self.take()
            return math.pow(base, self.signed())
        return base

    def atom(self) -> float:
        token = self.take()
        if isinstance(token, float):
            return token
        if token == "(":
            return self.closed(self.sum())
        if token == "√":
            self.expect("(")
            return math.sqrt(self.closed(self.sum()))
        if token in ("max", "min"):
            self.expect("(")
            first = self.sum()
            self.expect(",")
            second = self.closed(self.sum())
            return max(first, second) if token == "max" else min(first, second)
        if token.startswith("{"):
            name = token[1:-1]
            if name not in self.values:
                raise ValueError(f"symbol {name} is not listed")
            self.used.add(name)
            return self.values[name]
        raise ValueError(f"unexpected {token!r}")

    def closed(self, value: float) -> float:
        self.expect(")")
        return value

    def next_is(self, *signs: str) -> bool:
        return self.position < len(self.tokens) and self.tokens[self.position] in signs

    def take(self) -> float | str:
        if self.position == len(self.tokens):
            raise ValueError("the expression ends too early")
        self.position += 1
        return self.tokens[self.position - 1]

    def expect(self, sign: str) -> None:
        if self.take() != sign:
            raise ValueError(f"{sign!r} is expected")


def _tokens(expression: str) -> list[float | str]:
    tokens: list[float | str] = []
    position, text = 0, expression.rstrip()
    while position < len(text):
        match = _TOKEN.match(text, position)
        if match is None:
            raise ValueError(f"not in the grammar of a working: {text[position:]!r}")
        number, name, word, sign = match.groups()
        tokens.append(float(number) if number else "{" + name + "}" if name else word or sign)
        position = match.end()
    return tokens


def recompute_limits(finding: Finding) -> tuple[float, float]:
    """Both shown limits from their working, with the finding itself as `{value}`; ValueError when there is none.

    A number of degrees of freedom may stand there for the quantile's sake alone.
    """
    working = finding.interval("shown").working
    if working is None:
        raise ValueError("the limits have no working")
    values = {symbol.name: symbol.value for symbol in working.symbols} | {"value": finding.value}
    if len(values) != len(working.symbols) + 1:
        raise ValueError("a symbol is listed twice")
    ends, used = [], {"value"}
    for expression in (working.low, working.high):
        parser = _Parser(expression, values)
        ends.append(parser.whole())
        used |= parser.used
    idle = sorted(symbol.name for symbol in working.symbols if symbol.name not in used)
    if any(name.split("_")[0] != "df" for name in idle):
        raise ValueError(f"symbols without a place in the expressions: {', '.join(idle)}")
    return ends[0], ends[1]
