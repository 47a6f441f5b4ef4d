"""The evaluator of workings reads exactly the printed grammar."""

from __future__ import annotations

import pytest

from tests.working import recompute, recompute_limits
from validate.vocabulary.finding import Finding, Interval, LimitsWorking, Symbol, Working


def working(expression: str, **values: float) -> Working:
    symbols = tuple(Symbol(name=n, printed=n, meaning=n, value=v, unit="") for n, v in values.items())
    return Working(expression=expression, symbols=symbols)


@pytest.mark.parametrize(
    ("expression", "value"),
    [
        ("1 + 2 · 3", 7.0),
        ("(1 + 2) · 3", 9.0),
        ("8 / 4 / 2", 1.0),
        ("5 − 3 − 1", 1.0),
        ("5 - 3", 2.0),
        ("−2^2", -4.0),
        ("2^3^2", 512.0),
        ("2^−1", 0.5),
        ("√(9 + 16)", 5.0),
        ("max(0, −3) + min(2, 4)", 2.0),
        ("1.5e3", 1500.0),
    ],
)
def test_signs_bind_as_in_print(expression: str, value: float) -> None:
    assert recompute(working(expression)) == value


def test_symbols_stand_for_their_values() -> None:
    assert recompute(working("100 · {s_r} / {mean}", s_r=0.5, mean=10.0)) == 5.0


@pytest.mark.parametrize(
    "expression", ["", "1 +", "(1", "1)", "1 2", "2 * 3", "sqrt(4)", "{absent}", "√4", "__import__"]
)
def test_anything_else_is_refused(expression: str) -> None:
    with pytest.raises(ValueError):
        recompute(working(expression))


def test_a_symbol_without_a_place_in_the_expression_is_refused() -> None:
    with pytest.raises(ValueError, match="without a place"):
        recompute(working("1 + 1", idle=1.0))


def test_limits_that_rest_on_a_figure_without_a_place_are_refused() -> None:
    degrees = Symbol(name="df", printed="ν", meaning="degrees of freedom", value=5.0, unit="")
    idle = Symbol(name="idle", printed="x", meaning="nothing", value=1.0, unit="")
    assert recompute_limits(finding("{value} − 1", "{value} + 1", degrees)) == (9.0, 11.0)
    with pytest.raises(ValueError, match="without a place"):
        recompute_limits(finding("{value} − 1", "{value} + 1", idle))


def finding(low: str, high: str, *symbols: Symbol) -> Finding:
    shown = Interval(
        use="shown", level=0.95, low=9.0, high=11.0, method="t",
        working=LimitsWorking(low=low, high=high, symbols=symbols),
    )  # fmt: skip
    return Finding(name="x", level=None, value=10.0, unit="", intervals=(shown,), formula="", source="")
