"""What a verdict on an estimate is worth: how often methods near the bound would have passed."""

from __future__ import annotations

from validate.vocabulary.evaluation import Criterion, PassChance
from validate.vocabulary.finding import Finding


def pass_chances(criterion: Criterion, finding: Finding, *, lower_is_query: bool = False) -> tuple[PassChance, ...]:
    return ()
