"""How the limits of a finding are obtained, in the grammar of a working, from the numbers that they rest on."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from validate.vocabulary.finding import Interval, LimitsWorking, Symbol, Working

GENERAL_SYMBOLS = re.compile(r"u|df|t|chi2_(high|low)|(df|g|h)_\d+|\w+_(low|high)")
"""Names of the symbols made here that mean the same in every working of limits."""


def limits_working(
    rests_on: Iterable[tuple[str, float]], unit: str, level: float = 0.95, *, parts: Sequence[str] = ()
) -> LimitsWorking | None:
    """The working of t, chi-square or MLS limits from the numbers by the names of `stats.intervals.Limits.rests_on`.

    `unit` is that of the finding. t and chi-square limits start from the value of the finding,
    so that those of s hold for every multiple of s; MLS limits start from the parts of the
    variance, and `parts` say what these are. None for anything else.
    """
    found = {name: float(value) for name, value in rests_on if value < float("inf")}
    if "t" in found:
        return _t(found, unit, level)
    if "chi2_high" in found:
        return _chi_square(found, level)
    return _sum_of_squares(found, unit, level, parts) if "part_1" in found else None


def derived_limits(working: Working, base: Symbol, interval: Interval | None) -> LimitsWorking | None:
    """The limits of a finding that is computed from another one, `base`, which alone is uncertain in it.

    They are the limits of `base` put into the expression of `working` in its place.
    """
    if interval is None or interval.low is None or interval.high is None:
        return None
    ends = [
        Symbol(
            name=f"{base.name}_{end}", printed=f"{base.printed},{end}", meaning=f"{end} limit of {base.printed}",
            value=value, unit=base.unit,
        )
        for end, value in (("low", interval.low), ("high", interval.high))
    ]  # fmt: skip
    low, high = (working.expression.replace(f"{{{base.name}}}", f"{{{end.name}}}") for end in ends)
    others = tuple(symbol for symbol in working.symbols if symbol.name != base.name)
    return LimitsWorking(low=low, high=high, symbols=(*ends, *others))


def _t(found: Mapping[str, float], unit: str, level: float) -> LimitsWorking:
    symbols = [Symbol(name="u", printed="u", meaning="standard uncertainty", value=found["u"], unit=unit)]
    name, of = ("t", " of t with ν degrees of freedom") if "df" in found else ("z", " of the normal distribution")
    if "df" in found:
        symbols.append(_freedom("df", "ν", found["df"]))
    printed = f"{name}({(1 + level) / 2:.4g})"
    symbols.append(Symbol(name="t", printed=printed, meaning=f"quantile{of}", value=found["t"], unit=""))
    return LimitsWorking(low="{value} − {t} · {u}", high="{value} + {t} · {u}", symbols=tuple(symbols))


def _chi_square(found: Mapping[str, float], level: float) -> LimitsWorking:
    quantiles = tuple(
        Symbol(
            name=name, printed=f"χ²({probability:.4g})", meaning="quantile of chi-square with ν degrees of freedom",
            value=found[name], unit="",
        )
        for name, probability in (("chi2_high", (1 + level) / 2), ("chi2_low", (1 - level) / 2))
    )  # fmt: skip
    return LimitsWorking(
        low="{value} · √({df} / {chi2_high})",
        high="{value} · √({df} / {chi2_low})",
        symbols=(_freedom("df", "ν", found["df"]), *quantiles),
    )


def _sum_of_squares(found: Mapping[str, float], unit: str, level: float, parts: Sequence[str]) -> LimitsWorking:
    """MLS: G = 1 − ν/χ² and H = ν/χ² − 1 are printed with their quantiles' names, to be looked up or computed."""
    numbers = [name.removeprefix("part_") for name in found if name.startswith("part_")]
    lowered = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
    above, below = f"{(1 + level) / 2:.4g}", f"{(1 - level) / 2:.4g}"
    symbols = []
    told = len(parts) == len(numbers)
    meanings = parts if told else [f"part {n} of the variance" for n in numbers]
    for n, meaning in zip(numbers, meanings, strict=True):
        i = n.translate(lowered)
        symbols += [
            Symbol(name=f"part_{n}", printed=f"a{i}", meaning=meaning, value=found[f"part_{n}"],
                   unit=f"({unit})²"),
            _freedom(f"df_{n}", f"ν{i}", found[f"df_{n}"]),
            _factor(f"g_{n}", f"G{i}", f"1 − ν{i}/χ²({above}; ν{i})", found[f"g_{n}"]),
            _factor(f"h_{n}", f"H{i}", f"ν{i}/χ²({below}; ν{i}) − 1", found[f"h_{n}"]),
        ]  # fmt: skip
    total = " + ".join(f"{{part_{n}}}" for n in numbers)
    ends = {x: " + ".join(f"({{{x}_{n}}} · {{part_{n}}})^2" for n in numbers) for x in "gh"}
    return LimitsWorking(
        low=f"√({total} − √({ends['g']}))", high=f"√({total} + √({ends['h']}))", symbols=tuple(symbols)
    )


def _freedom(name: str, printed: str, value: float) -> Symbol:
    return _factor(name, printed, "degrees of freedom", value)


def _factor(name: str, printed: str, meaning: str, value: float) -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit="")
