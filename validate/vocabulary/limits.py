"""How the limits of a finding are obtained, in the grammar of a working, from the numbers that they rest on."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from validate.vocabulary.finding import Interval, LimitsWorking, Symbol, Working

RestsOn = Iterable[tuple[str, float]]
"""The numbers that limits were made from, by the names that `stats` gives them."""
GENERAL_SYMBOLS = re.compile(r"u|df|t|chi2_(high|low)|(df|g|h)_\d+|\w+_(low|high)")
"""Names of the symbols made here that mean the same in every working of limits."""


def limits_working(
    rests_on: RestsOn, unit: str, level: float = 0.95, *, parts: Sequence[str] = ()
) -> LimitsWorking | None:
    """The working of t, chi-square or MLS limits (of a sum, of a difference) from the numbers that they rest on.

    These go by the names of `stats.intervals.Limits.rests_on`; `unit` is that of the finding.
    t and chi-square limits start from the value of the finding,
    so that those of s hold for every multiple of s; MLS limits start from the parts of the
    variance, and `parts` say what these are. None for anything else.
    """
    found = {name: float(value) for name, value in rests_on if value < float("inf")}
    if "t" in found:
        return _t(found, unit, level)
    if "chi2_high" in found:
        return _chi_square(found, level)
    if "cross_g" in found:
        return _difference_of_squares(found, unit, level, parts)
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


def ratio_limits(
    rests_on: RestsOn, level: float = 0.95, *, low: str = "{value} / {f}", high: str = "{value} · {f}"
) -> LimitsWorking | None:
    """The working of limits whose logarithms are t limits; `{f}` in `low` and `high` is e^(t·u)."""
    plain = limits_working(rests_on, "", level)
    if plain is None:
        return None
    u = Symbol(name="u_log", printed="u_ln", meaning="standard uncertainty of the logarithm", value=0.0, unit="")
    symbols = [replace(u, value=symbol.value) if symbol.name == "u" else symbol for symbol in plain.symbols]
    symbols.append(Symbol(name="e", printed="e", meaning="base of natural logarithms", value=math.e, unit=""))
    factor = "{e}^({t} · {u_log})"
    return LimitsWorking(low=low.replace("{f}", factor), high=high.replace("{f}", factor), symbols=tuple(symbols))


def share_limits(x: Symbol, n: Symbol, rests_on: RestsOn, level: float = 0.95) -> LimitsWorking:
    """The working of Clopper and Pearson's limits of x of n, in percent, from the quantiles of F."""
    found, k, number = dict(rests_on), round(x.value), round(n.value)
    first, second = f"{{{x.name}}}", f"{{{n.name}}}"
    low, high, probability = "0", "100", f"{(1 + level) / 2:.4g}"
    symbols = [x, n]
    if "f_1" in found:
        low = f"100 · {first} / ({first} + ({second} − {first} + 1) · {{f_1}})"
        symbols.append(_f_quantile("f_1", "F₁", probability, 2 * (number - k + 1), 2 * k, found["f_1"]))
    if "f_2" in found:
        high = f"100 · ({first} + 1) · {{f_2}} / ({second} − {first} + ({first} + 1) · {{f_2}})"
        symbols.append(_f_quantile("f_2", "F₂", probability, 2 * (k + 1), 2 * (number - k), found["f_2"]))
    return LimitsWorking(low=low, high=high, symbols=tuple(symbols))


def spread_ratio_limits(rests_on: RestsOn, df_new: float, df_current: float, level: float = 0.95) -> LimitsWorking:
    """The working of F limits of a ratio of two standard deviations."""
    found, probability = dict(rests_on), f"{(1 + level) / 2:.4g}"
    return LimitsWorking(
        low="{value} / √({f_1})",
        high="{value} · √({f_2})",
        symbols=(
            _f_quantile("f_1", "F₁", probability, df_new, df_current, found["f_1"]),
            _f_quantile("f_2", "F₂", probability, df_current, df_new, found["f_2"]),
        ),
    )


def scaled_limits(working: LimitsWorking | None, factor: str) -> LimitsWorking | None:
    """The working of limits that do not start from the finding, times a number."""
    if working is None:
        return None
    return replace(working, low=f"{factor} · {working.low}", high=f"{factor} · {working.high}")


def _f_quantile(name: str, printed: str, probability: str, above: float, below: float, value: float) -> Symbol:
    meaning = f"quantile {probability} of F with ν = {above:.4g} and ν = {below:.4g}"
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit="")


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


def _difference_of_squares(found: Mapping[str, float], unit: str, level: float, parts: Sequence[str]) -> LimitsWorking:
    """MLS of a₁ − a₂: the same with a cross term, and with G of the one beside H of the other."""
    squares = _sum_of_squares(found, unit, level, parts or ("mean square that counts", "mean square that is taken off"))
    probabilities = (f"{(1 + level) / 2:.4g}", f"{(1 - level) / 2:.4g}")
    above, below = (f"F({probability}; ν₁, ν₂)" for probability in probabilities)
    cross = (
        _factor("cross_g", "G₁₂", f"((F − 1)² − G₁²·F² − H₂²)/F with F = {above}", found["cross_g"]),
        _factor("cross_h", "H₁₂", f"((1 − F)² − H₁²·F² − G₂²)/F with F = {below}", found["cross_h"]),
    )
    difference = "{part_1} − {part_2}"
    down, up = (
        f"√(max(0, ({{{one}_1}} · {{part_1}})^2 + ({{{other}_2}} · {{part_2}})^2 "
        f"+ {{cross_{one}}} · {{part_1}} · {{part_2}}))"
        for one, other in (("g", "h"), ("h", "g"))
    )
    return LimitsWorking(
        low=f"√(max(0, {difference} − {down}))",
        high=f"√(max(0, {difference} + {up}))",
        symbols=(*squares.symbols, *cross),
    )


def _freedom(name: str, printed: str, value: float) -> Symbol:
    return _factor(name, printed, "degrees of freedom", value)


def _factor(name: str, printed: str, meaning: str, value: float) -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit="")
