"""Repeatability and intermediate precision, their limits, and the comparison with a claim.

The factor between groups may be days, analysts, calibrations or laboratories; what
`s_intermediate` is called (intermediate precision, reproducibility) follows from it.
`one_way`, `nested` and `crossed` each have a module of their own, `components_…`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, Protocol

from scipy import special

from validate.stats._input import number
from validate.stats.components_crossed import Crossed, crossed
from validate.stats.components_nested import Nested, nested
from validate.stats.components_one_way import FEW_GROUPS, OneWay, one_way
from validate.stats.intervals import Limits, Term, mls_limits, satterthwaite_limits, sd_limits

__all__ = [
    "FACTOR_EXACT",
    "FACTOR_ISO",
    "FEW_GROUPS",
    "AgainstClaim",
    "Crossed",
    "Nested",
    "OneWay",
    "against_claim",
    "crossed",
    "intermediate_limits",
    "nested",
    "one_way",
    "repeatability_limit",
    "repeatability_limits",
]

FACTOR_ISO = 2.8
"""Repeatability limit over standard deviation, rounded as in ISO 5725-6."""
FACTOR_EXACT = float(special.ndtri(0.975)) * math.sqrt(2)
"""The same without rounding: 1.96·√2 = 2.772."""

Method = Literal["mls", "satterthwaite", "guarded"]


class Spread(Protocol):
    """What the limits need of a result: repeatability, and the total as a sum of terms."""

    @property
    def s_r(self) -> float: ...
    @property
    def df_within(self) -> float: ...
    @property
    def terms(self) -> tuple[Term, ...]: ...


def repeatability_limits(result: Spread, level: float) -> Limits:
    """Confidence limits of s_r at any two-sided level (not the repeatability limit r).

    Chi-square with the degrees of freedom within groups.
    """
    return sd_limits(result.s_r, result.df_within, level)


def intermediate_limits(result: Spread, level: float, *, method: Method = "mls") -> Limits:
    """Confidence limits of s_intermediate at any two-sided level, from the terms of a result.

    `"mls"`: modified large sample. `"satterthwaite"`: for comparison.
    `"guarded"`: MLS with the smaller of both lower limits, because the lower MLS limit is
    missed in up to 4.9 % (nominal 2.5) when nothing varies between groups: use it to show
    that a limit is exceeded.

    >>> a = one_way([10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9], [1, 1, 2, 2, 3, 3, 4, 4, 5, 5])
    >>> found = intermediate_limits(a, 0.95, method="satterthwaite")
    >>> round(found.low, 5), round(found.high, 5)
    (0.29252, 1.13916)
    """
    if method == "mls":
        return mls_limits(result.terms, level)
    if method == "satterthwaite":
        return satterthwaite_limits(result.terms, level)
    if method != "guarded":
        raise ValueError(f"unknown method {method!r}; one of mls, satterthwaite, guarded is needed")
    mls, other = mls_limits(result.terms, level), satterthwaite_limits(result.terms, level)
    return Limits(min(mls.low, other.low), mls.high, level, f"{mls.method}, lower limit not above Satterthwaite's")


def repeatability_limit(s: float, *, factor: float = FACTOR_ISO) -> float:
    """Repeatability (or reproducibility) limit: r = 2.8 · s, in the unit of s.

    Two single results differ by more in about 5 % of cases. ISO 5725-6 rounds 1.96·√2 to
    2.8; the exact factor is `FACTOR_EXACT` (2.772).

    >>> repeatability_limit(0.5)
    1.4
    """
    return number(factor, "factor", above=0) * number(s, "s", not_below=0)


@dataclass(frozen=True)
class AgainstClaim:
    """`ratio` = s/claimed SD with its limits `low, high`; `p_value` for 'true SD above the claim'."""

    ratio: float
    chi2: float
    df: float
    p_value: float
    low: float
    high: float
    level: float


def against_claim(s: float, df: float, claimed_sd: float, *, level: float = 0.95) -> AgainstClaim:
    """Compare an observed standard deviation with a claimed one.

    χ² = df · s²/σ_claimed²; p = P(χ²_df ≥ χ²), small when the method scatters more than
    claimed. A large p proves nothing; hold `high` against 1 instead.

    Raises ValueError for s < 0, df ≤ 0, claimed SD ≤ 0.

    Source: ISO 5725-6 and ISO 5725-4 (chi-square comparison; from memory).

    >>> c = against_claim(1.2, 9, 1.0)
    >>> round(c.chi2, 6), round(c.p_value, 4)
    (12.96, 0.1644)
    """
    claimed = number(claimed_sd, "the claimed SD", above=0)
    limits = sd_limits(s, df, level)
    chi2 = df * (s / claimed) ** 2
    return AgainstClaim(
        ratio=s / claimed,
        chi2=chi2,
        df=df,
        p_value=float(special.gammaincc(df / 2, chi2 / 2)),
        low=limits.low / claimed,
        high=limits.high / claimed,
        level=level,
    )
