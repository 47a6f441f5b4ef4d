"""Figures beside the ones that decide: scatter, slope, decisions, control, blank, column recovery."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np

from validate.stats.comparison import deming
from validate.stats.detection import proportion
from validate.stats.equivalence import SpreadRatio, sd_ratio, variance_ratio
from validate.studies.lot_comparison.columns import BLANK, CONTROL, SAMPLE, STANDARD
from validate.studies.lot_comparison.context import Context, symbol
from validate.studies.lot_comparison.pairing import CURRENT, NEW, results_of, side_of
from validate.vocabulary.finding import Finding, Interval, Sampling, Working
from validate.vocabulary.limits import share_limits, spread_ratio_limits

LIMIT_OF = re.compile(r"<\s*([0-9.eE+-]+)")
DEMING = "Deming (1943), jackknife after Linnet (1990), from memory"


def beside(context: Context) -> list[Finding]:
    """Those for which there are results; criteria may stand on any of them."""
    made = [_precision_ratio(context), _slope(context), _changed_decisions(context)]
    made += [_control(context), _blank(context), _column_recovery(context)]
    return [finding for finding in made if finding is not None]


def _precision_ratio(context: Context) -> Finding | None:
    """From repeated results of one sample with one lot; controls count too."""
    settings, words = context.settings, "logarithms of the results" if context.settings.is_ratio else "results"
    formula = f"pooled standard deviation within samples of the {words}, new / current"
    frames = [results_of(context.job.table, what) for what in (SAMPLE, CONTROL)]
    values, groups, rows = {}, {}, []
    for side in (NEW, CURRENT):
        sides = [side_of(frame, settings, side) for frame in frames]
        usable = [f[f["result"].notna() & ((f["result"] > 0) | (not settings.is_ratio))] for f in sides]
        results = np.concatenate([f["result"].to_numpy(float) for f in usable])
        values[side] = np.log(results) if settings.is_ratio else results
        groups[side] = [f"{i} {sample}" for i, f in enumerate(usable) for sample in f["sample"]]
        rows += [int(row) for f in usable for row in f.index]
    try:
        found = variance_ratio(values[NEW], values[CURRENT], new_groups=groups[NEW], current_groups=groups[CURRENT])
    except ValueError as reason:
        return context.missing("precision_ratio", str(reason), formula=formula)
    return context.finding(
        "precision_ratio",
        found.estimate,
        blocked=context.blocked(context.all),
        intervals=tuple(_spread_interval(context, found, use, level) for use, level in _uses(context)),
        df=found.df_new,
        formula=formula,
        source="F distribution; a p-value above 0.05 is no finding",
        working=Working(
            expression="{s_new} / {s_current}",
            symbols=(
                symbol("s_new", "s_n", f"new, ν = {found.df_new:g}", found.s_new),
                symbol("s_current", "s_c", f"current, ν = {found.df_current:g}", found.s_current),
            ),
        ),
        rows=context.rows(tuple(sorted(rows))),
        notes=(f"degrees of freedom: {found.df_new:g} (new) and {found.df_current:g} (current)",),
    )


def _spread_interval(context: Context, found: SpreadRatio, use: str, level: float) -> Interval:
    limits = sd_ratio(found.estimate, found.df_new, 1.0, found.df_current, level=level)
    working = spread_ratio_limits(limits.rests_on, found.df_new, found.df_current) if use == "shown" else None
    return Interval(use=use, level=level, low=limits.low, high=limits.high, method="F", working=working)  # type: ignore[arg-type]


def _uses(context: Context) -> tuple[tuple[str, float], ...]:
    return (("shown", 0.95), ("met", 0.90), ("not_met", context.job.not_met_level))


def _slope(context: Context) -> Finding | None:
    """On logarithms for ratios: 1 means the same ratio at every level."""
    part = context.all
    if not part.paired:
        return None
    of = "ln(new) against ln(current)" if part.is_ratio else "new against current"
    formula = f"slope of {of}, both with errors of one size"
    x, y = (np.log(part.current), np.log(part.new)) if part.is_ratio else (part.current, part.new)
    try:
        found = deming(x, y, variance_ratio=1.0)
    except ValueError as reason:
        return context.missing("slope", str(reason), formula=formula, n=part.n)
    return context.finding(
        "slope",
        found.slope,
        blocked=context.blocked(part),
        intervals=context.three(found.slope, found.se_slope, found.df, unit="1"),
        n=part.n,
        df=found.df,
        formula=formula,
        source=DEMING,
        working=Working(
            expression="({s_yy} − {s_xx} + √(({s_yy} − {s_xx})^2 + 4 · {s_xy}^2)) / (2 · {s_xy})",
            symbols=(
                symbol("s_xx", "S_xx", "sum of squares, current", found.s_xx),
                symbol("s_yy", "S_yy", "sum of squares, new", found.s_yy),
                symbol("s_xy", "S_xy", "sum of products", found.s_xy),
            ),
        ),
        sampling=Sampling(kind="mean", se=found.se_slope, df=found.df),
        rows=context.rows(part.rows),
        notes=("1 means the same ratio at every level",) if part.is_ratio else (),
    )


def _changed_decisions(context: Context) -> Finding | None:
    limit, part = context.job.method.limit, context.all
    if limit is None or not part.paired or part.n == 0:
        return None
    changed = int(np.count_nonzero((part.new > limit) != (part.current > limit)))

    x = symbol("x", "x", f"samples on the other side of {limit:g}{context.in_units}", changed)
    n = symbol("n", "n", "number of samples", part.n)

    def interval(use: str, level: float) -> Interval:
        found = proportion(changed, part.n, level=level)
        return Interval(
            use=use,  # type: ignore[arg-type]
            level=level,
            low=100 * found.low,
            high=100 * found.high,
            method="Clopper-Pearson",
            working=share_limits(x, n, found.rests_on) if use == "shown" else None,
        )

    return context.finding(
        "changed_decisions",
        100 * changed / part.n,
        blocked=context.blocked(part),
        intervals=tuple(interval(use, level) for use, level in _uses(context)),
        n=part.n,
        formula=f"100 · samples above {limit:g}{context.in_units} with one and not with the other / samples",
        source="counted; exact limits of a proportion",
        working=Working(expression="100 · {x} / {n}", symbols=(x, n)),
        rows=context.rows(part.rows),
    )


def _control(context: Context) -> Finding | None:
    frame = side_of(results_of(context.job.table, CONTROL), context.settings, NEW)
    if not len(frame) and "control_mean" not in context.settings.accept:
        return None
    formula = "mean of the results on the control material"
    labels = list(dict.fromkeys(frame["sample"]))
    if len(labels) > 1:
        why = f"{len(labels)} control materials were measured ({', '.join(labels)}): give one study to each"
        return context.missing("control_mean", why, formula=formula)
    return _mean(context, "control_mean", frame["result"], formula)


def _column_recovery(context: Context) -> Finding | None:
    frame = side_of(results_of(context.job.table, STANDARD), context.settings, NEW)
    if not len(frame) and "column_recovery" not in context.settings.accept:
        return None
    formula = "mean of 100 · found / content of the standard"
    if "added" not in frame.columns or not (frame["added"] > 0).all():
        why = "the content of a standard is missing or 0: fill the column `added`"
        return context.missing("column_recovery", why, formula=formula)
    return _mean(context, "column_recovery", 100 * frame["result"] / frame["added"], formula)


def _mean(context: Context, name: str, values, formula: str) -> Finding:  # type: ignore[no-untyped-def]
    numbers = values[values.notna()].to_numpy(float)
    n = numbers.size
    if n == 0:
        return context.missing(name, "no result was measured with the new one", formula=formula, n=0)
    mean = math.fsum(numbers) / n
    sd = float(np.std(numbers, ddof=1)) if n > 1 else 0.0
    censored = len(values) - n
    se, df = sd / math.sqrt(n), n - 1
    made = context.finding(
        name,
        mean,
        blocked=(f"{censored} results are no numbers",) if censored else (),
        n=n,
        df=df or None,
        formula=formula,
        source="mean of independent results; t limits",
        working=Working(
            expression="{sum} / {n}",
            symbols=(
                symbol("sum", "Σx", "sum", math.fsum(numbers)),
                symbol("n", "n", "number of results", n),
            ),
        ),
        rows=context.rows(tuple(int(row) for row in values.index[values.notna()])),
    )
    if sd == 0:
        return made
    return replace(
        made, intervals=context.three(mean, se, df, unit=made.unit), sampling=Sampling(kind="mean", se=se, df=df)
    )


def _blank(context: Context) -> Finding | None:
    """`<0.1` counts as 0.1: nobody knows that it was less."""
    table = context.job.table
    frame = side_of(results_of(table, BLANK), context.settings, NEW)
    if not len(frame) and "blank_highest" not in context.settings.accept:
        return None
    formula = "highest reading of the blanks; a reading below a limit counts as the limit"
    read = []
    for row, result in frame["result"].items():
        mark = table.marks.at[row, "result"]
        limit = LIMIT_OF.fullmatch(mark)
        if mark and limit is None:
            return context.missing("blank_highest", f'a blank reads "{mark}": no number bounds it', formula=formula)
        read.append(float(limit[1]) if limit else float(result))
    if not read:
        return context.missing("blank_highest", "no blank was measured with the new one", formula=formula, n=0)
    return context.finding(
        "blank_highest",
        max(read),
        n=len(read),
        formula=formula,
        source="read off; a maximum has no interval",
        rows=context.rows(tuple(int(row) for row in frame.index)),
    )
