"""One random factor: results in groups (days, runs, laboratories) of equal or unequal size."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import count, group_codes, vector
from validate.stats._sums import cells, centred, squared_deviations, total
from validate.stats.intervals import Limits, Term, component_limits, mls_limits, satterthwaite_df, sd_limits

FEW_GROUPS = 5
"""Below this number of groups the part between them is hardly known."""


@dataclass(frozen=True)
class OneWay:
    """Components of one-way data, with the sums that a reviewer ticks off.

    `mean` is weighted by group size. `variance_between_raw` may be negative;
    `s_between` is then 0, `s_r` stays √MS_within, and `s_pooled` (all results as one
    group) stands beside it. `terms` add up to the untruncated total variance from
    unweighted group means (`variance_of_means` and (1 − 1/n_harmonic)·MS_within): the
    limits rest on them (with very unequal groups, sizes 1, 1, 1, 12, the estimate, which
    weights by size, lies outside its limits in up to 2 % of cases). `s_between_limits` are
    informative. `few_groups` is True below five groups.
    """

    n: int
    n_groups: int
    mean: float
    s_r: float
    s_between: float
    s_intermediate: float
    variance_between_raw: float
    ss_between: float
    ss_within: float
    ms_between: float
    ms_within: float
    df_between: int
    df_within: int
    f: float | None
    p_value: float | None
    n0: float
    n_harmonic: float
    variance_of_means: float
    s_pooled: float
    s_r_limits: Limits
    s_intermediate_limits: Limits
    s_between_limits: Limits
    terms: tuple[Term, ...]
    labels: tuple[Hashable, ...]
    group_sizes: tuple[int, ...]
    group_means: tuple[float, ...]
    few_groups: bool
    notes: tuple[str, ...] = ()

    @property
    def df_intermediate(self) -> float:
        """Satterthwaite's degrees of freedom of s_intermediate."""
        return satterthwaite_df(self.terms)

    @property
    def floor(self) -> float:
        """MS_within over the second term: s_intermediate² is never below this times that term."""
        return 1 / (1 - 1 / self.n_harmonic)


def one_way(values: ArrayLike, groups: Iterable[Hashable], *, level: float = 0.95) -> OneWay:
    """Repeatability, between-group and intermediate standard deviation of one-way data.

    s_r² = MS_within; s_between² = (MS_between − MS_within)/n0, told as it is and taken as
    0 when negative; s_intermediate² = s_r² + max(0, s_between²);
    n0 = (N − Σn_i²/N)/(p − 1). Limits: chi-square for s_r, MLS for s_intermediate
    (`intervals.mls_limits`), informative ones for s_between
    (`variance_sums.difference_limits`).

    `values`: N results of one unit; `groups`: one label each; groups may differ in size.
    Assumes normal scatter of results within groups and of group means. Raises ValueError
    for fewer than 2 groups or no group with a second result.

    Source: ISO 5725-2:1994 7.4.5 and ISO 5725-3 (from memory, clause numbers included).

    >>> days = [1, 1, 2, 2, 3, 3, 4, 4, 5, 5]
    >>> a = one_way([10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9], days)
    >>> round(a.ms_between, 6), round(a.ms_within, 6), round(a.s_r, 5), round(a.s_between, 5)
    (0.3865, 0.051, 0.22583, 0.40957)
    >>> round(a.s_intermediate, 5), round(a.s_intermediate_limits.low, 5), round(a.s_intermediate_limits.high, 5)
    (0.46771, 0.30642, 1.27556)
    """
    x = vector(values, "result", at_least=3)
    codes, labels = group_codes(groups, len(x))
    n, p = len(x), len(labels)
    _need_groups(n, p)
    centre, deviation = centred(x)
    cell = cells(deviation, codes)
    grand = total(cell.sizes * cell.means) / n
    ss_between = total(cell.sizes * (cell.means - grand) ** 2)
    ms_between, ms_within = ss_between / (p - 1), cell.squares_within / (n - p)
    n0 = (n - total(cell.sizes**2) / n) / (p - 1)
    between = (ms_between - ms_within) / n0
    n_harmonic = p / total(1 / cell.sizes)
    _, squares_of_means = squared_deviations(cell.means)
    terms = (Term(squares_of_means / (p - 1), p - 1), Term((1 - 1 / n_harmonic) * ms_within, n - p))
    s_r, f = math.sqrt(ms_within), ms_between / ms_within if ms_within > 0 else None
    s_pooled = math.sqrt((ss_between + cell.squares_within) / (n - 1))
    return OneWay(
        n=n,
        n_groups=p,
        mean=centre + grand,
        s_r=s_r,
        s_between=math.sqrt(max(0.0, between)),
        s_intermediate=math.sqrt(ms_within + max(0.0, between)),
        variance_between_raw=between,
        ss_between=ss_between,
        ss_within=cell.squares_within,
        ms_between=ms_between,
        ms_within=ms_within,
        df_between=p - 1,
        df_within=n - p,
        f=f,
        p_value=None if f is None else float(special.fdtrc(p - 1, n - p, f)),
        n0=n0,
        n_harmonic=n_harmonic,
        variance_of_means=terms[0].value,
        s_pooled=s_pooled,
        s_r_limits=sd_limits(s_r, n - p, level),
        s_intermediate_limits=mls_limits(terms, level),
        s_between_limits=component_limits(ms_between / n0, p - 1, ms_within / n0, n - p, level),
        terms=terms,
        labels=tuple(labels),
        group_sizes=tuple(int(size) for size in cell.sizes),
        group_means=tuple((centre + cell.means).tolist()),
        few_groups=p < FEW_GROUPS,
        notes=notes_on(p, "groups", {"between-group": between}, s_pooled),
    )


def _need_groups(n: int, p: int) -> None:
    if p < 2:
        raise ValueError(f"{count(p, 'group')} found, at least 2 needed")
    if n <= p:
        raise ValueError(f"{n} results found in {p} groups, at least {p + 1} needed: no group has a second result")


def notes_on(levels: int, what: str, variances: dict[str, float], s_pooled: float) -> tuple[str, ...]:
    """What a reader must know of the estimates."""
    notes = []
    if levels < FEW_GROUPS:
        notes.append(f"few {what}: {levels} (fewer than {FEW_GROUPS}); the part between them is hardly known")
    for name, variance in variances.items():
        if variance < 0:
            notes.append(
                f"the {name} variance estimate is negative (−{-variance:.3g}) and taken as 0; "
                f"all results as one group give s = {s_pooled:.3g}"
            )
    return tuple(notes)
