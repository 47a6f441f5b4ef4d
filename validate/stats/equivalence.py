"""Equivalence: is a new lot (analyst, instrument, site) the same as the current one, within a margin?

| question | function |
|---|---|
| is the mean difference within a margin? | `tost_mean` (pairs), `tost_two_means` (two samples) |
| is the ratio within a margin? | `tost_ratio` (pairs, or two samples) |
| does the new lot scatter more? | `variance_ratio`; from standard deviations `sd_ratio` |
| would a shift of a stated size have been seen? | `shift_test` |
| which lots does a customary rule on a mean difference reject? | `rejection_rate` |

`low, high` are the 90 % interval of two one-sided 5 % tests: equal within the margin is
shown when it lies inside. A large p-value of a test for a difference shows nothing.
The text is in the modules `equivalence_…`. Sample sizes: `design.pairs_for_equivalence`, `design.pairs_for_shift`.
"""

from validate.stats.equivalence_margin import (
    Equivalence,
    RatioEquivalence,
    margin_of_ratio,
    tost_mean,
    tost_ratio,
    tost_two_means,
)
from validate.stats.equivalence_shift import Shift, rejection_rate, shift_test
from validate.stats.equivalence_spread import SpreadRatio, sd_ratio, variance_ratio

__all__ = [
    "Equivalence",
    "RatioEquivalence",
    "Shift",
    "SpreadRatio",
    "margin_of_ratio",
    "rejection_rate",
    "sd_ratio",
    "shift_test",
    "tost_mean",
    "tost_ratio",
    "tost_two_means",
    "variance_ratio",
]
