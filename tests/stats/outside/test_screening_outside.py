"""Limits of screening rates against one-sided normal tolerance factors in 30-digit arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from validate.stats.screening import cut_off, false_negative_rate, false_suspect_rate

FILE = "general/tolerance_factors.csv"


def readings(n):
    """n evenly spaced readings with mean 0 and standard deviation 1."""
    x = np.arange(float(n))
    return (x - x.mean()) / x.std(ddof=1)


def test_upper_limit_of_a_false_suspect_rate_is_what_the_tolerance_factor_leaves(rows):
    """k·s above the mean covers a share P with confidence C: at most 1 − P of the blanks lie beyond a cut-off there."""
    for row in rows(FILE):
        n, k, share, confidence = (float(row[c]) for c in ("n", "k_one_sided", "coverage", "confidence"))
        rate = false_suspect_rate(readings(int(n)), k, direction="proportional", level=2 * confidence - 1)
        assert rate.high == pytest.approx(1 - share, rel=1e-8), row


def test_limits_of_a_false_negative_rate_turn_back_into_the_factor_of_the_cut_off(rows):
    """The factor that covers 1 − high with the confidence of the limit is t itself, the factor of the cut-off."""
    from scipy import special

    for n in {int(row["n"]) for row in rows(FILE)}:
        rate = false_negative_rate(n, level=0.95)
        for share, confidence in ((rate.high, 0.975), (rate.low, 0.025)):
            reached = special.nctdtr(n - 1, -special.ndtri(share) * np.sqrt(n), rate.t * np.sqrt(n))
            assert reached == pytest.approx(confidence, rel=1e-7)


def test_limits_of_a_cut_off_turn_back_into_their_confidence(rows):
    from scipy import special

    for n in {int(row["n"]) for row in rows(FILE)}:
        at = cut_off(readings(n), direction="proportional")
        for end, confidence in ((at.low, 0.975), (at.high, 0.025)):
            reached = special.nctdtr(n - 1, at.t * np.sqrt(n), -end * np.sqrt(n))
            assert reached == pytest.approx(confidence, rel=1e-7)
