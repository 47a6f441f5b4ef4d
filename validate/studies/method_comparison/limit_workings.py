"""How limits of a comparison are redone: t limits, those of logarithms, those of noncentral t."""

from __future__ import annotations

import math

from validate.stats.intervals import Limits
from validate.vocabulary.finding import LimitsWorking, Symbol
from validate.vocabulary.limits import limits_working


def of_t(limits: Limits, unit: str, factor: float = 1.0) -> LimitsWorking | None:
    """The finding ± t·u, u times `factor` in the unit of the finding; None for limits by ranks or bootstrap."""
    rests_on = [(name, value * factor if name == "u" else value) for name, value in limits.rests_on]
    return limits_working(rests_on, unit, limits.level)


def of_logarithms(limits: Limits, low: str, high: str, *others: Symbol) -> LimitsWorking | None:
    """Limits whose logarithms are t limits: `low` and `high` hold `{f}`, that is e^(t·u)."""
    plain = limits_working(limits.rests_on, "", limits.level)
    if plain is None:
        return None
    euler = Symbol(name="e", printed="e", meaning="Euler's number", value=math.e, unit="")
    low, high = (end.replace("{f}", "({e}^({t} · {u}))") for end in (low, high))
    return LimitsWorking(low=low, high=high, symbols=(*plain.symbols, euler, *others))


def of_noncentral_t(limits: Limits, unit: str, *, logarithms: bool) -> LimitsWorking:
    """d + q·u at either end, q quantiles of noncentral t; as powers of e for ratios."""
    found = dict(limits.rests_on)
    tail = (1 - limits.level) / 2
    of = f"of noncentral t with {found['df']:.5g} degrees of freedom and shift {found['shift']:.6g}"
    symbols = [
        Symbol(name="d", printed="d̄", meaning="mean difference", value=found["d"], unit=unit),
        Symbol(name="u", printed="u", meaning="standard uncertainty of d̄", value=found["se"], unit=unit),
        Symbol(name="q_low", printed="q₁", meaning=f"quantile {tail:.4g} {of}", value=found["q_low"], unit=""),
        Symbol(name="q_high", printed="q₂", meaning=f"quantile {1 - tail:.4g} {of}", value=found["q_high"], unit=""),
    ]
    low, high = "{d} + {q_low} · {u}", "{d} + {q_high} · {u}"
    if logarithms:
        low, high = f"{{e}}^({low})", f"{{e}}^({high})"
        symbols.append(Symbol(name="e", printed="e", meaning="Euler's number", value=math.e, unit=""))
    return LimitsWorking(low=low, high=high, symbols=tuple(symbols))
