"""Bland and Altman: between which limits do 95 % of the differences of two ways of measuring lie?"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, confidence, group_codes, vector
from validate.stats._sums import squared_deviations, total
from validate.stats.comparison_deming import pairs
from validate.stats.intervals import Limits, noncentral_t_quantile, t_limits

FEWEST = 3
MULTIPLE, MULTIPLE_1986 = 1.96, 2.0


@dataclass(frozen=True)
class BlandAltman:
    """Bias and limits of agreement of y against x, each with limits of its own.

    As differences y − x, or with `ratio` as ratios y/x (then `sd`, `sd_of_means`, `se_bias` and
    `se_limit` are of logarithms). `sd` is that of differences between single readings;
    `sd_of_means` that of the means of samples with replicates, else the same. `s_within_x` and
    `s_within_y` are the repeatabilities of replicates, None without any.
    """

    bias: float
    lower: float
    upper: float
    bias_limits: Limits
    lower_limits: Limits
    upper_limits: Limits
    sd: float
    sd_of_means: float
    se_bias: float
    se_limit: float
    multiple: float
    n: int
    df: int
    ratio: bool
    s_within_x: float | None = None
    s_within_y: float | None = None
    differences: Floats | None = None
    """Of the samples in order of first appearance; of logarithms with `ratio`."""


@dataclass(frozen=True)
class _Side:
    """Means of the samples of one method, and how its replicates scatter about them."""

    means: Floats
    s_within: float | None
    df: int
    lost: float
    """1 − mean of 1/m over the samples: the share of the variance that averaging took away."""


def bland_altman(
    x: ArrayLike,
    y: ArrayLike,
    *,
    ratio: bool = False,
    samples_x: Iterable[Hashable] | None = None,
    samples_y: Iterable[Hashable] | None = None,
    printed: bool = False,
    exact: bool = False,
    level: float = 0.95,
) -> BlandAltman:
    """Bias d̄ of the differences y − x and limits of agreement d̄ ± 1.96·s, with limits of each.

    SE of d̄: s/√n; of a limit: s·√(1/n + 1.96²/(2(n − 1))); limits by t on n − 1 df.
    `ratio`: the same on ln(y/x), given back as ratios. `printed`: as the paper of 1986 prints
    it, d̄ ± 2·s and s·√(3/n). These limits of a limit are symmetric, which its estimate is not: at
    n = 20 90 % limits of the upper one lie too low in 8.9 % of cases and too high in 1.3 %, where
    each should be 5 %. `exact`: from the noncentral t distribution, d̄ ± (s/√n)·t′(p; n − 1, 1.96·√n),
    right at each end (with replicates nearly, by the df of Satterthwaite). Where means of samples agree
    so well beside their replicates that t′ is no double, the symmetric ones stay.
    Replicates (`samples_x`, `samples_y` name the sample of every reading; x and y may then differ
    in number): d of the means of the samples; s² = s_means² + (1 − m̃_x)·s_wx² + (1 − m̃_y)·s_wy²
    with m̃ the mean of 1/m, s_w the pooled SD within samples; its variance by the sum of theirs.

    `x`, `y`: 3 samples or more. Assumed: differences normal and of one size at all levels (else use
    `ratio`), readings of different samples independent.

    Raises ValueError for fewer samples, unequal numbers without sample names, a sample that one
    method did not read, `exact` with `printed`, or with `ratio` a value that is not above 0.

    Source: J. M. Bland, D. G. Altman, Lancet 1986 i 307-310; Stat. Methods Med. Res. 8 (1999)
    135-160, section 5 (from memory).

    >>> found = bland_altman([10.0, 12, 14, 16], [11.0, 12, 15, 18])
    >>> round(found.bias, 3), round(found.lower, 3), round(found.upper, 3)
    (1.0, -0.6, 2.6)
    """
    if printed and exact:
        raise ValueError("limits as printed in 1986 are not the exact ones")
    if (samples_x is None) is not (samples_y is None):
        raise ValueError("the samples of both methods are named, or of neither")
    if samples_x is None:
        first, second = pairs(*(_scaled(each, name, ratio) for each, name in ((x, "x"), (y, "y"))), at_least=FEWEST)
        sides = (_Side(first, None, 0, 0.0), _Side(second, None, 0, 0.0))
    else:
        sides = _sides(_scaled(x, "x", ratio), _scaled(y, "y", ratio), list(samples_x), list(samples_y))  # type: ignore[arg-type]
    differences = sides[1].means - sides[0].means
    n = len(differences)
    bias, squares = squared_deviations(differences)
    variance_of_means = squares / (n - 1)
    parts = [each.lost * each.s_within**2 if each.s_within is not None else 0.0 for each in sides]
    sd = math.sqrt(variance_of_means + sum(parts))
    multiple = MULTIPLE_1986 if printed else MULTIPLE
    se_bias = math.sqrt(variance_of_means / n)
    se_sd = _se_sd(sd, squares, n, sides, parts)
    se_limit = sd * math.sqrt(3 / n) if printed else math.hypot(se_bias, multiple * se_sd)
    ends = [bias, bias - multiple * sd, bias + multiple * sd]
    limits = [t_limits(end, se, n - 1, level) for end, se in zip(ends, (se_bias, se_limit, se_limit), strict=True)]
    if exact and se_bias > 0:
        df = sd**2 / (2 * se_sd**2)
        found = [_exact_limits(bias, se_bias, side * multiple * sd / se_bias, df, level) for side in (-1, 1)]
        limits[1:] = found if all(math.isfinite(each.low + each.high) for each in found) else limits[1:]
    back = math.exp if ratio else float
    return BlandAltman(
        *(back(end) for end in ends),
        *(Limits(back(each.low), back(each.high), level, each.method, each.rests_on) for each in limits),
        sd=sd,
        sd_of_means=math.sqrt(variance_of_means),
        se_bias=se_bias,
        se_limit=se_limit,
        multiple=multiple,
        n=n,
        df=n - 1,
        ratio=ratio,
        s_within_x=sides[0].s_within,
        s_within_y=sides[1].s_within,
        differences=differences,
    )


def _exact_limits(bias: float, se: float, shift: float, df: float, level: float) -> Limits:
    """Limits of mean + shift·se of the truth: bias + se·t′ at either end, t′ noncentral t with `shift` and `df`.

    From (mean + m·σ − d̄)/(s/√n), which is noncentral t with n − 1 df and m·√n, whatever mean and σ.
    """
    tail = (1 - confidence(level)) / 2
    low, high = (noncentral_t_quantile(p, df, shift) for p in (tail, 1 - tail))
    rests_on = (("d", bias), ("se", se), ("df", df), ("shift", shift), ("q_low", low), ("q_high", high))
    return Limits(bias + se * low, bias + se * high, level, "noncentral t", rests_on)


def _scaled(values: ArrayLike, what: str, ratio: bool) -> Floats:
    checked = vector(values, f"{what} value", at_least=1)
    if not ratio:
        return checked
    if np.any(checked <= 0):
        raise ValueError(f"{int(np.sum(checked <= 0))} {what} values are not above 0: there are no ratios")
    return np.log(checked)


def _sides(x: Floats, y: Floats, samples_x: list[Hashable], samples_y: list[Hashable]) -> tuple[_Side, _Side]:
    codes_x, names = group_codes(samples_x, len(x), "sample")
    codes_y, names_y = group_codes(samples_y, len(y), "sample")
    missing = [str(name) for name in dict.fromkeys([*names, *names_y]) if name not in names or name not in names_y]
    if missing:
        raise ValueError(f"read by one method only: {', '.join(missing[:5])}")
    if len(names) < FEWEST:
        raise ValueError(f"{len(names)} samples found, at least {FEWEST} needed")
    place = {name: i for i, name in enumerate(names)}
    order = np.array([place[name] for name in names_y], dtype=np.intp)
    return _side(x, codes_x, len(names)), _side(y, order[codes_y], len(names))


def _side(values: Floats, codes: np.ndarray, n: int) -> _Side:
    sizes = np.bincount(codes, minlength=n)
    means = np.bincount(codes, values, minlength=n) / sizes
    df = int(np.sum(sizes - 1))
    if df == 0:
        return _Side(means, None, 0, 0.0)
    within = math.sqrt(total((values - means[codes]) ** 2) / df)
    return _Side(means, within, df, 1 - float(np.mean(1 / sizes)))


def _se_sd(sd: float, squares: float, n: int, sides: tuple[_Side, _Side], parts: list[float]) -> float:
    """√(Var(s²))/(2s): from the variances of the mean squares that s² is the sum of."""
    if sd == 0:
        return 0.0
    variance = 2 * (squares / (n - 1)) ** 2 / (n - 1)
    variance += sum(2 * part**2 / side.df for part, side in zip(parts, sides, strict=True) if side.df)
    return math.sqrt(variance) / (2 * sd)
