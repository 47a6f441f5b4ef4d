"""What a verdict on an estimate is worth: how often methods near the bound would have passed."""

from __future__ import annotations

from collections.abc import Iterator

from validate.vocabulary.evaluation import Criterion, PassChance
from validate.vocabulary.finding import Finding, Sampling

MULTIPLES = (0.75, 1.0, 1.25)
"""True values as multiples of a bound with one end."""
QUARTER = 0.25
"""Step inside and outside a limit of a range, as a share of its half-width."""


def pass_chances(criterion: Criterion, finding: Finding, *, lower_is_query: bool = False) -> tuple[PassChance, ...]:
    """Chance of `met` by the estimate, in this design, for methods truly at and near the bound.

    A bound with one end: true values of 0.75, 1 and 1.25 times the bound. A range: the true
    mean at the limit nearer to the estimate, and a quarter of the half-width inside and
    outside it, with the scatter observed. Empty where the finding does not say how it scatters.
    """
    if finding.sampling is None or finding.value is None:
        return ()
    low, high = (None if lower_is_query else criterion.low), criterion.high
    truths = _truths(low, high, finding.value)
    foreseen = ((words, truth, _chance(truth, finding.sampling, low, high)) for words, truth in truths)
    return tuple(
        PassChance(truth=words, value=truth, chance=chance) for words, truth, chance in foreseen if chance is not None
    )


def _chance(truth: float, sampling: Sampling, low: float | None, high: float | None) -> float | None:
    """None for a true value that cannot be (a spread of 0) and a scatter that is not fully known."""
    from validate.stats.design import pass_probability

    try:
        return pass_probability(
            truth,
            kind=sampling.kind,
            low=low,
            high=high,
            df=sampling.df,
            se=sampling.se,
            shares=sampling.shares,
            dfs=sampling.dfs,
            floors=sampling.floors,
        )
    except ValueError:
        return None


def _truths(low: float | None, high: float | None, estimate: float) -> Iterator[tuple[str, float]]:
    if low is None or high is None:
        bound = high if low is None else low
        for multiple in MULTIPLES:
            yield f"{multiple:g} of the bound" if multiple != 1 else "at the bound", multiple * bound
        return
    step = QUARTER * (high - low) / 2
    upper = abs(high - estimate) <= abs(estimate - low)
    name, limit, inwards = ("upper", high, -step) if upper else ("lower", low, step)
    yield f"true mean a quarter of the half-width inside the {name} limit", limit + inwards
    yield f"true mean at the {name} limit", limit
    yield f"true mean a quarter of the half-width outside the {name} limit", limit - inwards
