"""Formulas print their symbols and, once more, the values; nothing in them becomes markup."""

from __future__ import annotations

from tests.working import recompute
from validate.dossier.formula import filled, symbolic, symbols, unbroken
from validate.vocabulary.finding import Symbol, Working


def working(expression: str, **values: float) -> Working:
    return Working(
        expression=expression,
        symbols=tuple(Symbol(name=n, printed=n, meaning=n, value=v, unit="") for n, v in values.items()),
    )


def test_a_number_keeps_its_unit_on_its_line() -> None:
    """At the slash a line may end otherwise; a word that only begins like the unit is left alone."""
    assert unbroken("at 15 µg/kg, 20 %", "µg/kg") == "at 15\u00a0µg/\u2060kg, 20\u00a0%"
    assert unbroken("<b> 3 mg, 3 mgs", "mg") == "&lt;b&gt; 3\u00a0mg, 3 mgs"


def test_a_lowered_letter_is_lowered_and_a_file_name_is_not() -> None:
    assert symbols("RSD_r = 100 · s_r / x̄") == "RSD<sub>r</sub> = 100 · s<sub>r</sub> / x̄"
    assert symbols("rows of recovery_data.csv and s_r.csv") == "rows of recovery_data.csv and s_r.csv"


def test_in_prose_only_symbols_of_the_trade_are_lowered() -> None:
    assert unbroken("RSD_wR and u(x_pt), σ_pt", "") == "RSD<sub>wR</sub> and u(x<sub>pt</sub>), σ<sub>pt</sub>"
    assert unbroken("within -1 to 2, R-017 of 2031-03-10", "") == "within \u22121 to 2, R-017 of 2031-03-10"
    assert unbroken("lot C_0931, lab_a, s_r.csv", "") == "lot C_0931, lab_a, s_r.csv"


def test_powers_are_raised() -> None:
    assert symbolic(working("{s}^2 / {n}^(-1)", s=2.0, n=3.0)) == (
        '<i class="sym">s</i><sup>2</sup> / <i class="sym">n</i><sup>−1</sup>'
    )


def test_negative_values_are_put_in_with_brackets() -> None:
    assert filled(working("{a} - {b}", a=1.5, b=-2.25)) == "1.5 − (−2.25)"


def test_the_filled_formula_gives_the_value_to_five_digits() -> None:
    """A reader types what is printed; seven digits in are enough for five out."""
    example = working("100 · √({s}^2 / {n}) / {mean}", s=0.31415926535, n=6.0, mean=4.7123889)
    typed = str(filled(example)).replace("<sup>", "^").replace("</sup>", "")
    assert abs(recompute(Working(expression=typed, symbols=())) / recompute(example) - 1) < 5e-6


def test_texts_in_symbols_are_escaped() -> None:
    hostile = Working(
        expression="2 · {a}", symbols=(Symbol(name="a", printed="<b>x</b>", meaning="m", value=1.0, unit=""),)
    )
    assert "<b>" not in symbolic(hostile)
    assert symbols("<script>") == "&lt;script&gt;"
