"""Mean and bias of the control material; its scatter from run to run and over lots."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from validate.stats._sums import squared_deviations
from validate.stats.intervals import Limits, Term, mls_limits, satterthwaite_limits, sd_limits, t_limits
from validate.stats.precision import nested, one_way
from validate.stats.trueness import Bias, bias_test
from validate.studies.control_chart.parts import (
    BY_NAME,
    blocked_readings,
    blocked_spread,
    finding,
    intervals_of,
    symbol,
)
from validate.studies.control_chart.runs import Record
from validate.vocabulary.finding import Finding, Sampling, Symbol, Working

ISO_5725 = "ISO 5725-2 and -3 (from memory)"
GUM = "GUM (JCGM 100:2008), 4.2.3 and G.4.1"
PLAIN = "standard deviation, any text"
RELATIVE = {"s_r": "rsd_r", "s_intermediate": "rsd_intermediate", "s_long_term": "rsd_long_term"}


@dataclass(frozen=True)
class Spread:
    """One standard deviation as a sum of independent parts, with its arithmetic."""

    value: float
    terms: tuple[Term, ...]
    df: float
    n: int
    groups: int
    formula: str
    source: str
    expression: str
    symbols: tuple[Symbol, ...]
    notes: tuple[str, ...] = ()

    def limits(self, use: str, level: float) -> Limits:
        """Chi-square for one part, MLS for a sum; for `not met` not above Satterthwaite's lower limit."""
        if len(self.terms) == 1:
            return sd_limits(self.value, self.df, level)
        found = mls_limits(self.terms, level)
        if use != "not_met":
            return found
        low = min(found.low, satterthwaite_limits(self.terms, level).low)
        return Limits(low, found.high, level, f"{found.method}, lower limit not above Satterthwaite's")


def place_findings(record: Record) -> tuple[Finding, ...]:
    """Mean, and the bias against the certified value where there is one."""
    reference = record.reference
    made = [_mean(record)]
    if record.settings.limits.material is None:
        return tuple(made)
    formula = {"bias": "b = x̄ − certified value", "bias_percent": "b_rel = 100·(x̄ − certified value)/certified value"}
    common = {"source": GUM, "n": record.n}
    if reference is None or record.n < 2:
        reason = "fewer than 2 runs" if reference else f"material {record.settings.limits.material} has no such value"
        made += [finding(record, name, None, reason=reason, formula=formula[name], **common) for name in formula]
        return tuple(made)
    found = bias_test(record.means, reference.value, u_reference=reference.u or 0.0)
    for name, factor in (("bias", 1.0), ("bias_percent", 100 / reference.value)):
        if reference.value <= 0 and name == "bias_percent":
            continue
        made.append(
            finding(
                record, name, factor * found.bias, formula=formula[name], groups=record.n, df=_finite(found.df),
                blocked=blocked_readings(record),
                intervals=_around(record, found, factor),
                working=_bias_working(record, found, in_percent=factor != 1.0),
                sampling=Sampling(kind="mean", se=factor * found.u, df=_finite(found.df)) if found.u else None,
                notes=_on_reference(record), **common,
            )
        )  # fmt: skip
    return tuple(made)


def _mean(record: Record) -> Finding:
    common = {"formula": "x̄ = sum of the means of runs / number of runs", "source": PLAIN, "n": record.n}
    if record.n < 2:
        return finding(record, "mean", None, reason="fewer than 2 runs with a number", **common)
    mean, squares = squared_deviations(record.means)
    u, df = math.sqrt(squares / (record.n - 1) / record.n), record.n - 1
    return finding(
        record, "mean", mean, df=df, groups=record.n, blocked=blocked_readings(record),
        intervals=intervals_of(record, lambda _, level: t_limits(mean, u, df, level), record.unit),
        working=Working(expression="{sum} / {n}", symbols=(
            symbol("sum", "Σx̄_i", "sum of the means of runs", math.fsum(record.means.tolist()), record.unit),
            symbol("n", "n", "runs", record.n),
        )),
        sampling=Sampling(kind="mean", se=u, df=df) if u else None,
        **common,
    )  # fmt: skip


def _around(record: Record, found: Bias, factor: float) -> tuple:
    unit = record.unit if factor == 1 else "%"
    return intervals_of(record, lambda _, level: t_limits(found.bias, found.u, found.df, level), unit, factor)


def _bias_working(record: Record, found: Bias, *, in_percent: bool) -> Working:
    symbols = (
        symbol("mean", "x̄", "mean of the runs", found.mean, record.unit),
        symbol("c", "c", "certified value", found.reference, record.unit),
    )
    return Working(expression="100 · ({mean} − {c}) / {c}" if in_percent else "{mean} − {c}", symbols=symbols)


def _on_reference(record: Record) -> tuple[str, ...]:
    reference = record.reference
    if reference is None or reference.u is None:
        return ("the certified value has no stated uncertainty: it is taken as exact",)
    return (f"standard uncertainty of the certified value {reference.u:.4g} {record.unit}",)


def spread_findings(record: Record) -> tuple[Finding, ...]:
    """Within runs, over the record, and with the part of slow changes; each with its relative form."""
    names = ("s_r", "s_intermediate", "s_long_term") if record.replicated else ("s_intermediate", "s_long_term")
    spreads = {"s_r": _within, "s_intermediate": _over_runs, "s_long_term": _long_term}
    made = []
    for name in names:
        try:
            found: Spread | str = spreads[name](record)
        except ValueError as error:
            found = str(error)
        made += [_absolute(record, name, found), _relative(record, name, found)]
    return tuple(made)


def _within(record: Record) -> Spread:
    found = one_way(record.values, record.run_of.tolist())
    symbols = (symbol("ms_w", "MS_w", "mean square within runs", found.ms_within),)
    return Spread(found.s_r, (Term(found.ms_within, found.df_within),), found.df_within, found.n, record.n,
                  "s_r = √MS_w", ISO_5725, "√({ms_w})", symbols)  # fmt: skip


def _over_runs(record: Record) -> Spread:
    if not record.replicated:
        return _plain(record)
    found = one_way(record.values, record.run_of.tolist())
    return _of_groups(found, "run", found.n, record.n, _df(found.terms))


def _plain(record: Record) -> Spread:
    """One value for each run: the standard deviation of all of them, slow changes as they came."""
    if record.n < 2:
        raise ValueError("fewer than 2 runs with a number")
    _, squares = squared_deviations(record.means)
    df = record.n - 1
    symbols = (
        symbol("ss", "SS", "squared deviations of the runs from their mean", squares),
        symbol("n", "n", "runs", record.n),
    )
    return Spread(math.sqrt(squares / df), (Term(squares / df, df),), df, record.n, record.n, "s_I = √(SS/(n − 1))",
                  PLAIN, "√({ss} / ({n} − 1))", symbols)  # fmt: skip


def _long_term(record: Record) -> Spread:
    role = record.settings.long_term_by
    labels = record.labels(role)
    known = np.array([bool(label) for label in labels], dtype=bool)
    names = sorted({label for label in labels if label})
    if len(names) < 2:
        what = f"one {role} only" if names else f"no {role} is recorded"
        raise ValueError(f"{what}: what varies between one {role} and the next is not known")
    if not known.all():
        raise ValueError(f"{int((~known).sum())} runs without a {role}")
    if not record.replicated:
        found = one_way(record.means, list(labels))
        return _of_groups(found, role, record.n, len(names), _df(found.terms))
    outer = [labels[run] for run in record.run_of.tolist()]
    deep = nested(record.values, outer, record.run_of.tolist())
    symbols = (
        symbol("s_o", f"s_{role}", f"standard deviation between one {role} and the next", deep.s_outer, record.unit),
        symbol("s_i", "s_run", "standard deviation between runs", deep.s_inner, record.unit),
        symbol("s_w", "s_r", "standard deviation within runs", deep.s_r, record.unit),
    )
    return Spread(deep.s_intermediate, deep.terms, deep.df_intermediate, deep.n, len(names),
                  f"s_lt = √(s_{role}² + s_run² + s_r²)", ISO_5725, "√({s_o}^2 + {s_i}^2 + {s_w}^2)", symbols,
                  tuple(deep.notes))  # fmt: skip


def _of_groups(found: object, role: str, n: int, groups: int, df: float) -> Spread:
    symbols = (
        symbol("ms_w", "MS_w", f"mean square within one {role}", found.ms_within),  # type: ignore[attr-defined]
        symbol("ms_b", "MS_b", f"mean square between one {role} and the next", found.ms_between),  # type: ignore[attr-defined]
        symbol("n0", "n₀", f"results of one {role}, effective number", found.n0),  # type: ignore[attr-defined]
    )
    name = "s_I" if role == "run" else "s_lt"
    return Spread(found.s_intermediate, found.terms, df, n, groups,  # type: ignore[attr-defined]
                  f"{name} = √(MS_w + max(0, (MS_b − MS_w)/n₀))", ISO_5725,
                  "√({ms_w} + max(0, ({ms_b} − {ms_w}) / {n0}))", symbols, tuple(found.notes))  # type: ignore[attr-defined]  # fmt: skip


def _df(terms: tuple[Term, ...]) -> float:
    from validate.stats.intervals import satterthwaite_df

    return satterthwaite_df(terms)


def _absolute(record: Record, name: str, found: Spread | str) -> Finding:
    if isinstance(found, str):
        return finding(record, name, None, reason=found, formula=name, source=PLAIN, n=record.n)
    return finding(
        record, name, found.value, n=found.n, df=_finite(found.df), groups=found.groups, formula=found.formula,
        source=found.source, blocked=(*blocked_readings(record), *blocked_spread(record, found.value)),
        intervals=intervals_of(record, found.limits, record.unit),
        working=Working(expression=found.expression, symbols=found.symbols),
        sampling=_sampling(found), notes=found.notes,
    )  # fmt: skip


def _relative(record: Record, name: str, found: Spread | str) -> Finding:
    own, printed = RELATIVE[name], BY_NAME[name].symbol
    formula = f"100·{printed}/x̄"
    if isinstance(found, str):
        return finding(record, own, None, reason=found, formula=formula, source=PLAIN, n=record.n)
    mean = float(np.mean(record.means))
    if mean <= 0:
        return finding(record, own, None, reason="the mean is not above 0", formula=formula, source=PLAIN, n=record.n)
    return finding(
        record, own, 100 * found.value / mean, n=found.n, df=_finite(found.df), groups=found.groups, formula=formula,
        source=found.source, blocked=(*blocked_readings(record), *blocked_spread(record, found.value)),
        intervals=intervals_of(record, found.limits, "%", 100 / mean),
        working=Working(expression="100 · {s} / {mean}", symbols=(
            symbol("s", printed, "standard deviation", found.value, record.unit),
            symbol("mean", "x̄", "mean of the runs", mean, record.unit),
        )),
        sampling=_sampling(found),
    )  # fmt: skip


def _sampling(found: Spread) -> Sampling | None:
    if found.value == 0:
        return None
    if len(found.terms) == 1:
        return Sampling(kind="scaled_chi", df=found.df)
    whole = sum(term.value for term in found.terms)
    return Sampling(kind="scaled_chi_sum", shares=tuple(term.value / whole for term in found.terms),
                    dfs=tuple(term.df for term in found.terms))  # fmt: skip


def _finite(df: float) -> float | None:
    return None if math.isinf(df) else float(df)
