"""Precision of one level in one form, whichever the design: repeated results, runs in laboratories, split levels."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from validate.stats import interlaboratory, precision
from validate.stats.intervals import Limits, Term, component_limits, satterthwaite_df
from validate.studies.collaborative_trial.level_data import LevelData
from validate.studies.collaborative_trial.settings import SPLIT, Design
from validate.studies.collaborative_trial.words import counted
from validate.vocabulary.finding import Symbol


@dataclass(frozen=True)
class Spread:
    """A standard deviation, its arithmetic, and the variance terms that its limits rest on."""

    value: float
    terms: tuple[Term, ...]
    df: float
    expression: str
    symbols: tuple[Symbol, ...]
    floors: tuple[float, ...] = ()


@dataclass(frozen=True)
class LevelEstimate:
    """What one level gives. `raw_between` is the variance between laboratories as estimated, negative or not."""

    mean: float
    se_mean: float
    n: int
    laboratories: int
    s_r: Spread
    s_within: Spread | None
    s_L: Spread
    s_L_limits: Limits
    s_R: Spread
    raw_between: float


def estimate(data: LevelData, design: Design, unit: str) -> LevelEstimate:
    """The precision of a level; ValueError says in words why there is none."""
    if design.kind == SPLIT:
        return _split(data, unit)
    if len(data.labels) < 2:
        raise ValueError(f"{counted(len(data.labels), 'laboratory')} with results, at least 2 are needed")
    return _nested(data, unit) if design.runs is not None else _uniform(data, unit)


def _variance(name: str, printed: str, meaning: str, value: float, unit: str) -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit=f"({unit})²")


def _number(name: str, printed: str, meaning: str, value: float) -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit="")


def _uniform(data: LevelData, unit: str) -> LevelEstimate:
    found = interlaboratory.accuracy_experiment(
        data.values, data.laboratories.tolist(), [data.level] * data.values.size
    ).levels[0]
    sums = found.components
    ss = _variance("ss", "SS_w", "sum of squares within laboratories", sums.ss_within, unit)
    df = _number("df", "ν_w", "degrees of freedom within laboratories", sums.df_within)
    ms_w = _variance("ms_w", "MS_w", "mean square within laboratories", sums.ms_within, unit)
    ms_b = _variance("ms_b", "MS_b", "mean square between laboratories", sums.ms_between, unit)
    n0 = _number("n0", "n̄", "effective number of results of a laboratory", sums.n0)
    between = "max(0, ({ms_b} − {ms_w}) / {n0})"
    return LevelEstimate(
        mean=found.mean,
        se_mean=_se_mean(data),
        n=found.n,
        laboratories=found.n_laboratories,
        s_r=Spread(found.s_r, (Term(sums.ms_within, sums.df_within),), sums.df_within, "√({ss} / {df})", (ss, df)),
        s_within=None,
        s_L=Spread(found.s_L, (), sums.df_between, f"√({between})", (ms_b, ms_w, n0)),
        s_L_limits=found.s_L_limits,
        s_R=Spread(
            found.s_R,
            sums.terms,
            satterthwaite_df(sums.terms),
            f"√({{ms_w}} + {between})",
            (ms_w, ms_b, n0),
            (sums.floor,),
        ),
        raw_between=found.variance_L_raw,
    )


def _nested(data: LevelData, unit: str) -> LevelEstimate:
    _need_runs(data)
    found = precision.nested(data.values, data.laboratories.tolist(), data.run.tolist())
    ms_w = _variance("ms_w", "MS_w", "mean square within runs", found.ms_within, unit)
    ms_i = _variance("ms_i", "MS_i", "mean square between runs of one laboratory", found.ms_inner, unit)
    ms_o = _variance("ms_o", "MS_o", "mean square between laboratories", found.ms_outer, unit)
    k_i, k_oi, k_o = (
        _number(name, printed, "coefficient of the expected mean square", value)
        for name, printed, value in (
            ("k_i", "k_i", found.k_inner),
            ("k_oi", "k_oi", found.k_outer_inner),
            ("k_o", "k_o", found.k_outer),
        )
    )
    inner = "({ms_i} − {ms_w}) / {k_i}"
    outer = f"({{ms_o}} − {{ms_w}} − {{k_oi}} · {inner}) / {{k_o}}"
    everything = (ms_w, ms_i, ms_o, k_i, k_oi, k_o)
    within, whole = found.terms_within_outer, found.terms
    limits = _component_limits(data)
    return LevelEstimate(
        mean=found.mean,
        se_mean=_se_mean(data),
        n=found.n,
        laboratories=found.n_outer,
        s_r=Spread(found.s_r, (Term(found.ms_within, found.df_within),), found.df_within, "√({ms_w})", (ms_w,)),
        s_within=Spread(
            found.s_within_outer, within, satterthwaite_df(within), f"√({{ms_w}} + max(0, {inner}))", (ms_w, ms_i, k_i)
        ),
        s_L=Spread(found.s_outer, (), found.df_outer, f"√(max(0, {outer}))", everything),
        s_L_limits=limits,
        s_R=Spread(
            found.s_intermediate,
            whole,
            satterthwaite_df(whole),
            f"√({{ms_w}} + max(0, {inner}) + max(0, {outer}))",
            everything,
        ),
        raw_between=found.variance_outer_raw,
    )


def _need_runs(data: LevelData) -> None:
    runs = len(set(zip(data.laboratories.tolist(), data.run.tolist(), strict=True)))
    if runs <= len(data.labels):
        raise ValueError("no laboratory has two runs: what a run adds cannot be told from what a laboratory adds")
    if data.values.size <= runs:
        raise ValueError("no run has a second result: repeatability is not known")


def _component_limits(data: LevelData) -> Limits:
    from validate.stats import mean_squares

    squares = mean_squares.nested(
        data.values,
        {
            "outer": np.unique(data.laboratories.astype(str), return_inverse=True)[1],
            "inner": np.unique(data.run.astype(str), return_inverse=True)[1],
        },
    )
    found = squares.component_limits("outer", level=0.95)
    return Limits(math.sqrt(found.low), math.sqrt(found.high), 0.95, "MLS (Ting et al.)")


def _split(data: LevelData, unit: str) -> LevelEstimate:
    labels, first, second, _ = data.pairs()
    if len(labels) < 3:
        raise ValueError(f"{counted(len(labels), 'laboratory')} with both samples, at least 3 are needed")
    found = interlaboratory.split_level(first, second)
    p = found.n_laboratories
    s_d = Symbol(name="s_d", printed="s_D", meaning="standard deviation of the differences", value=found.s_D, unit=unit)
    s_y = Symbol(name="s_y", printed="s_y", meaning="standard deviation of the averages", value=found.s_y, unit=unit)
    between = "max(0, {s_y}^2 − {s_d}^2 / 4)"

    return LevelEstimate(
        mean=found.mean,
        se_mean=found.s_y / math.sqrt(p),
        n=2 * p,
        laboratories=p,
        s_r=Spread(found.s_r, (Term(found.s_r**2, p - 1),), p - 1, "√({s_d}^2 / 2)", (s_d,)),
        s_within=None,
        s_L=Spread(found.s_L, (), p - 1, f"√({between})", (s_y, s_d)),
        s_L_limits=component_limits(found.s_y**2, p - 1, found.s_r**2 / 2, p - 1, 0.95),
        s_R=Spread(
            found.s_R, found.terms, satterthwaite_df(found.terms), f"√({{s_d}}^2 / 2 + {between})", (s_d, s_y), (2.0,)
        ),
        raw_between=found.variance_L_raw,
    )


def _se_mean(data: LevelData) -> float:
    """From the unweighted means of the laboratories, which are independent."""
    codes = np.unique(data.laboratories.astype(str), return_inverse=True)[1]
    means = np.bincount(codes, weights=data.values) / np.bincount(codes)
    return float(np.std(means, ddof=1)) / math.sqrt(means.size)
