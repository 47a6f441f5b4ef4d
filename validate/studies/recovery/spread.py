"""Standard deviations of the found results of one level: repeatability and intermediate precision."""

from __future__ import annotations

import re
from dataclasses import dataclass

from validate.stats.descriptive import summary
from validate.stats.intervals import Limits, sd_limits
from validate.stats.precision import OneWay, intermediate_limits, one_way, repeatability_limits
from validate.studies.contract import StudyInput
from validate.studies.recovery.grouping import Grouping
from validate.studies.recovery.judgeable import LimitsAt
from validate.studies.recovery.samples import Level
from validate.vocabulary.finding import Sampling, Symbol

ISO_5725 = "one-way analysis of variance, ISO 5725-2 (from memory)"


@dataclass(frozen=True)
class Spread:
    """A standard deviation in the method's unit with its arithmetic, or the reason why there is none.

    `mean` is the mean of the results that relative figures are divided by; `words` say
    what was pooled; `expression` and `symbols` are the working of `value`, and `parts` say
    what the parts of the variance are on which the limits of a sum rest.
    """

    value: float | None
    reason: str | None = None
    words: str = ""
    mean: float = 0.0
    n: int | None = None
    df: float | None = None
    groups: int | None = None
    limits: LimitsAt | None = None
    expression: str = ""
    symbols: tuple[Symbol, ...] = ()
    sampling: Sampling | None = None
    source: str = ISO_5725
    notes: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()


def repeatability(job: StudyInput, level: Level) -> Spread:
    """s_r pooled within runs; where no runs are recorded the SD of all results, and named so."""
    runs = level.runs
    if level.n < 2:
        return Spread(None, "fewer than two numerical results at this level")
    if runs is None:
        return _plain(job, level, "SD of all results of the level; neither days nor runs are recorded")
    if runs.count == 1:
        return _plain(job, level, f"SD of the results of the one {runs.one}")
    if level.n == runs.count:
        words = f"repeatability cannot be told from the spread between {runs.many}"
        return Spread(None, f"one result per {runs.one}: {words}")
    fit = one_way(level.found, runs.codes)
    return Spread(
        value=fit.s_r,
        words=f"pooled within {runs.many}",
        mean=fit.mean,
        n=level.n,
        df=fit.df_within,
        groups=level.group_count,
        limits=lambda use, confidence: repeatability_limits(fit, confidence),
        expression="√({ss_within} / ({n} − {p}))",
        symbols=(
            _symbol("ss_within", "SS_w", f"sum of squares within {runs.many}", fit.ss_within, f"({job.method.unit})²"),
            _symbol("n", "N", "results", level.n),
            _symbol("p", "p", runs.many, runs.count),
        ),
        sampling=Sampling(kind="scaled_chi", df=fit.df_within),
    )


def intermediate(job: StudyInput, level: Level) -> Spread:
    """s_I = √(s_r² + s_between²) over the runs of the level, limits by MLS."""
    runs = level.runs
    if level.n < 2:
        return Spread(None, "fewer than two numerical results at this level")
    if runs is None:
        return Spread(None, "neither days, runs nor analysts are recorded for every result")
    if runs.count < 2:
        return Spread(None, f"only one {runs.one}: nothing tells how {runs.many} differ")
    if level.n == runs.count:
        return _plain(job, level, f"SD of single results, one per {runs.one}")
    fit = one_way(level.found, runs.codes)
    return Spread(
        value=fit.s_intermediate,
        words=f"within and between {runs.many}",
        mean=fit.mean,
        n=level.n,
        df=fit.df_intermediate,
        groups=level.group_count,
        limits=lambda use, confidence: _guarded(fit, use, confidence),
        expression="√({ms_within} + max(0, ({ms_between} − {ms_within}) / {n0}))",
        symbols=_mean_squares(job, fit, runs),
        sampling=_sampling_of_sum(fit),
        source=f"{ISO_5725}; limits by Graybill and Wang 1980 (from memory)",
        notes=tuple(_in_words(note, runs, job.method.unit) for note in fit.notes),
        parts=(
            f"variance of the unweighted means of {runs.many}",
            f"(1 − 1/n_h) · MS_w, n_h the harmonic mean of the results per {runs.one}",
        ),
    )


def _in_words(note: str, runs: Grouping, unit: str) -> str:
    """`groups` in a note of the statistics, called what they are, and figures with their unit."""
    note = re.sub(r"\((−[^)]+)\)", rf"(\1 ({unit})²)", re.sub(r"(give s = \S+)$", rf"\1 {unit}", note))
    return note.replace("between-group", f"between-{runs.one}").replace("groups", runs.many)


def _plain(job: StudyInput, level: Level, words: str) -> Spread:
    found = summary(level.found)
    df = found.n - 1
    return Spread(
        value=found.sd,
        words=f"{words} (n − 1)",
        mean=found.mean,
        n=found.n,
        df=df,
        groups=level.group_count,
        limits=lambda use, confidence: sd_limits(found.sd, df, confidence),
        expression="√({ss} / ({n} − 1))",
        symbols=(
            _symbol("ss", "SS", "sum of squared deviations from the mean", found.sd**2 * df, f"({job.method.unit})²"),
            _symbol("n", "n", "results", found.n),
        ),
        sampling=Sampling(kind="scaled_chi", df=df),
        source="standard deviation of a sample, common practice, no source",
    )


def _guarded(fit: OneWay, use: str, confidence: float) -> Limits:
    """For `not met` the lower limit is the smaller one of two methods: MLS alone misses too often there."""
    return intermediate_limits(fit, confidence, method="guarded" if use == "not_met" else "mls")


def _mean_squares(job: StudyInput, fit: OneWay, runs: Grouping) -> tuple[Symbol, ...]:
    squared = f"({job.method.unit})²"
    return (
        _symbol("ms_within", "MS_w", f"mean square within {runs.many}", fit.ms_within, squared),
        _symbol("ms_between", "MS_b", f"mean square between {runs.many}", fit.ms_between, squared),
        _symbol("n0", "n₀", f"results per {runs.one} (weighted for unequal numbers)", fit.n0),
    )


def _sampling_of_sum(fit: OneWay) -> Sampling:
    total = sum(term.value for term in fit.terms)
    if total == 0:
        return Sampling(kind="scaled_chi", df=fit.df_intermediate)
    return Sampling(
        kind="scaled_chi_sum",
        shares=tuple(term.value / total for term in fit.terms),
        dfs=tuple(float(term.df) for term in fit.terms),
        floors=(fit.floor,),
    )


def _symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)
