"""Which findings a protocol's design gives, known before there is a result."""

from __future__ import annotations

from validate.studies.precision.kinds import BY_NAME, HORRATS
from validate.studies.precision.settings import PrecisionSettings
from validate.studies.precision.words import RELATIVE, TOTAL_FINDING, scope_of


def names_of(settings: PrecisionSettings) -> tuple[str, ...]:
    """The findings that a design gives, in the order of `kinds.FINDINGS`."""
    totals = {TOTAL_FINDING[scope_of(factor.called)] for factor in settings.design.factors}
    wanted = {"mean", "s_r", "rsd_r", "r", "s_between", *totals, *(RELATIVE[name] for name in totals)}
    if "s_reproducibility" in totals:
        wanted.add("R")
    if settings.claimed:
        wanted.add("s_r_to_claim")
    wanted |= {name for name in wanted_horrats(settings) if HORRATS[name][0] != "R" or "s_reproducibility" in totals}
    return tuple(name for name in BY_NAME if name in wanted)


def wanted_horrats(settings: PrecisionSettings) -> tuple[str, ...]:
    """The HorRat forms to show and those that a criterion of the study names."""
    return tuple(name for name in HORRATS if name in settings.horrat or name in settings.accept)
