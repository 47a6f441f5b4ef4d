"""Limits from the scatter of blanks and of low-level samples: critical value, detection limit, shortcuts, MDL."""

from __future__ import annotations

from validate.stats.detection import BlankLimits, from_blanks, method_detection_limit
from validate.studies.detection.approaches import (
    BOTH_ERRORS,
    CURRIE,
    NONE_STATED,
    SHORTCUT,
    Approach,
    Bench,
    Spread,
    blocks,
    limit_from,
    missing,
    symbol,
    usable,
)
from validate.studies.detection.samples import Group
from validate.studies.detection.settings import FAR_ABOVE, FEWEST_BLANKS, FEWEST_DAYS, FEWEST_LOW_LEVEL, SIGNAL
from validate.vocabulary.finding import Finding, Working

DETECTION_FORMULA = "x_D = δ·s·√(1/m + 1/n)/b"
CRITICAL_FORMULA = "x_C = t·s·√(1/m + 1/n)/b"
MDL_FORMULA = "MDL = max(t·s_spiked, mean (0 if negative) + t·s of the blanks)"
MDL_SOURCE = "40 CFR Part 136 Appendix B, Revision 2 (formulas from memory)"
MDL_ERRORS = "1 % false positives, missed ones not bounded; gross: holds the mean of the blanks"
SHORTCUTS = (("lod_3_sd", 3.0, "3·s/b"), ("lod_3.3_sd", 3.3, "3.3·s/b"), ("loq_10_sd", 10.0, "10·s/b"))
STANDS_IN = "the scatter of low-level samples stands for that of blanks"


def low_level_of(bench: Bench) -> Group | None:
    """The declared low level, else the lowest spiked level with numbers enough."""
    settings, spikes = bench.settings, bench.samples.spikes
    if settings.low_level is not None:
        return next((group for group in spikes if group.level == settings.low_level), None)
    enough = [group for group in spikes if group.n >= FEWEST_LOW_LEVEL]
    return enough[0] if enough else next((group for group in spikes if group.n), None)


def words_of(group: Group) -> str:
    return "blanks" if group.level == "0" else f"samples at level {group.level}"


def base(bench: Bench, group: Group | None, what: str) -> tuple[BlankLimits, Spread] | str:
    """Limits and spread of a group of samples, or why there are none."""
    if group is None:
        return "no low-level samples were measured"
    fewest = FEWEST_BLANKS if group.level == "0" else FEWEST_LOW_LEVEL
    reason = usable(bench, group, what, fewest=fewest) or bench.samples.sensitivity.reason
    if reason is not None:
        return reason
    found = from_blanks(group.values, slope=bench.slope, m=bench.settings.averaged)
    spread = Spread(
        s=found.sd,
        df=found.df,
        words=f"SD of {group.n} {what}",
        n=group.n,
        days=group.days,
        rows=group.rows,
        blocked=blocks(group, what, fewest=fewest, fewest_days=FEWEST_DAYS),
    )
    return found, spread


def scatter_approaches(bench: Bench) -> tuple[Approach, ...]:
    """Detection limits from blanks and from low-level samples, then the shortcuts on the better of the two."""
    low = low_level_of(bench)
    blanks = base(bench, bench.samples.blanks, "blanks")
    low_level = base(bench, low, "low-level samples" if low is None else words_of(low))
    made = [
        _detection(bench, "lod_blanks", blanks, ()),
        _detection(bench, "lod_low_level", low_level, _notes_on_level(low, low_level)),
    ]
    chosen = low_level if isinstance(blanks, str) else blanks
    made += [_shortcut(bench, name, factor, formula, chosen) for name, factor, formula in SHORTCUTS]
    return (*made, _mdl(bench, low))


def critical_value(bench: Bench) -> tuple[Finding, float | None]:
    """The critical value as a content, and as a gross response above which a result is no blank."""
    low = low_level_of(bench)
    found = base(bench, bench.samples.blanks, "blanks")
    notes: tuple[str, ...] = ()
    if isinstance(found, str):
        why = found
        found = base(bench, low, "low-level samples" if low is None else words_of(low))
        notes = (f"not from the blanks ({why}): {STANDS_IN}",)
    if isinstance(found, str):
        return missing("critical_value", found, bench, formula=CRITICAL_FORMULA, source=CURRIE), None
    limits, spread = found
    finding = limit_from(
        bench,
        "critical_value",
        spread,
        limits.critical_concentration / spread.s,
        "{t} · {s} · √(1 / {m} + 1 / {n})" + bench.over_slope,
        (symbol("t", "t", f"one-sided 95 % quantile at {limits.df} degrees of freedom", limits.t),
         *_common(bench, limits, spread)),
        formula=CRITICAL_FORMULA,
        source=CURRIE,
        proves=False,
        notes=notes,
    )  # fmt: skip
    blanks = bench.samples.blanks
    centre = float(blanks.values.mean()) if blanks.n else 0.0
    return finding, centre + bench.samples.sensitivity.sign * limits.critical_net


def _detection(bench: Bench, name: str, found: tuple[BlankLimits, Spread] | str, notes: tuple[str, ...]) -> Approach:
    if isinstance(found, str):
        return Approach(missing(name, found, bench, formula=DETECTION_FORMULA, source=CURRIE), "", BOTH_ERRORS)
    limits, spread = found
    finding = limit_from(
        bench,
        name,
        spread,
        limits.detection_concentration / spread.s,
        "{delta} · {s} · √(1 / {m} + 1 / {n})" + bench.over_slope,
        (symbol("delta", "δ", f"noncentrality at {limits.df} degrees of freedom, 5 % and 5 %", limits.delta),
         *_common(bench, limits, spread)),
        formula=DETECTION_FORMULA,
        source=CURRIE,
        proves=True,
        notes=(*notes, f"2·t in place of δ would give {limits.twice_t:.4g} {bench.unit}"),
    )  # fmt: skip
    net = limits.detection_net
    gross = (
        bench.samples.sensitivity.sign * net + float(bench.samples.blanks.values.mean()) if _has_blanks(bench) else None
    )
    return Approach(finding, spread.words, BOTH_ERRORS, net, gross)


def _shortcut(
    bench: Bench, name: str, factor: float, formula: str, found: tuple[BlankLimits, Spread] | str
) -> Approach:
    if isinstance(found, str):
        return Approach(missing(name, found, bench, formula=formula, source=SHORTCUT), "", NONE_STATED)
    _, spread = found
    finding = limit_from(
        bench,
        name,
        spread,
        factor / bench.slope,
        f"{factor:g} · {{s}}" + bench.over_slope,
        (symbol("s", "s", spread.words, spread.s, bench.samples.unit), *bench.slope_symbols()),
        formula=formula,
        source=SHORTCUT,
        proves=False,
        notes=("a shortcut: no error probabilities are attached to it",),
    )
    net = factor * spread.s
    gross = (
        bench.samples.sensitivity.sign * net + float(bench.samples.blanks.values.mean()) if _has_blanks(bench) else None
    )
    return Approach(finding, spread.words, NONE_STATED, net, gross)


def _has_blanks(bench: Bench) -> bool:
    return bench.samples.blanks.n > 0


def _common(bench: Bench, limits: BlankLimits, spread: Spread) -> tuple:
    return (
        symbol("s", "s", spread.words, spread.s, bench.samples.unit),
        symbol("m", "m", "determinations averaged into a result", limits.m),
        symbol("n", "n", "results behind s", limits.n),
        *bench.slope_symbols(),
    )


def _notes_on_level(low: Group | None, found: tuple[BlankLimits, Spread] | str) -> tuple[str, ...]:
    if low is None or isinstance(found, str):
        return ()
    ratio = float(low.level) / found[0].detection_concentration
    if ratio > FAR_ABOVE:
        return (STANDS_IN, f"level {low.level} is {ratio:.3g} times the limit: it may scatter more than a blank does")
    return (STANDS_IN,)


def _mdl(bench: Bench, low: Group | None) -> Approach:
    reason = _why_no_mdl(bench, low)
    if reason is not None or low is None:
        finding = missing("lod_mdl", reason or "", bench, formula=MDL_FORMULA, source=MDL_SOURCE)
        return Approach(finding, "", MDL_ERRORS)
    blanks = bench.samples.blanks
    given = [*blanks.values.tolist(), *[None] * len(blanks.censored)]
    found = method_detection_limit(low.values, given if len(given) >= FEWEST_LOW_LEVEL else None)
    symbols = [
        symbol("t", "t", f"one-sided 99 % quantile at {low.n - 1} degrees of freedom", found.t_spiked),
        symbol("s", "s_spiked", f"SD of {low.n} {words_of(low)}", found.sd_spiked, bench.unit),
    ]
    expression = "{t} · {s}"
    if found.mdl_blank is not None:
        expression = f"max({expression}, {{blank}})"
        symbols.append(symbol("blank", "MDL_b", found.blank_rule, found.mdl_blank, bench.unit))
    finding = Finding(
        name="lod_mdl",
        level=None,
        value=found.mdl,
        unit=bench.unit,
        blocked=blocks(low, words_of(low), fewest=FEWEST_LOW_LEVEL, fewest_days=FEWEST_DAYS),
        n=low.n,
        df=float(low.n - 1),
        groups=low.days,
        formula=MDL_FORMULA,
        source=MDL_SOURCE,
        working=Working(expression=expression, symbols=tuple(symbols)),
        rows=(*low.rows, *blanks.rows),
        notes=(f"blanks: {found.blank_rule}; as read, not divided by a slope",),
    )
    return Approach(finding, f"SD of {low.n} {words_of(low)}", MDL_ERRORS, gross=found.mdl)


def _why_no_mdl(bench: Bench, low: Group | None) -> str | None:
    if bench.settings.response == SIGNAL:
        return "defined for contents, the table holds signals"
    if low is None:
        return "no low-level samples were measured"
    if low.censored:
        return f"{len(low.censored)} {words_of(low)} gave no number: a higher level is needed"
    if low.n < FEWEST_LOW_LEVEL:
        return f"{low.n} {words_of(low)}: at least {FEWEST_LOW_LEVEL} needed"
    return usable(bench, low, words_of(low), fewest=FEWEST_LOW_LEVEL)
