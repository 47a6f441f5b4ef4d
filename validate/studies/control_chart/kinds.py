"""The figures that a control chart can give, with the names that criteria and other studies use."""

from __future__ import annotations

from validate.vocabulary.finding import FindingKind

FEWEST_RUNS, FEWEST_GROUPS = 10, 5
"""Runs, and lots, without which no verdict is given (common practice, no source)."""


def _spread(name: str, title: str, symbol: str, unit: str, characteristic: str, groups: int | None) -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, characteristic=characteristic, per_level=True,
                       smaller_is_better=True, minimum_n=FEWEST_RUNS, minimum_groups=groups)  # fmt: skip


def _plain(name: str, title: str, symbol: str, unit: str, *, per_level: bool, trueness: bool = False) -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, per_level=per_level,
                       characteristic="trueness" if trueness else "",
                       minimum_n=FEWEST_RUNS if per_level else None)  # fmt: skip


PRECISION = "intermediate_precision"
FINDINGS = (
    _plain("mean", "Mean of the record", "x̄", "method", per_level=True),
    _plain("bias", "Bias against the certified value", "b", "method", per_level=True, trueness=True),
    _plain("bias_percent", "Bias against the certified value, relative", "b_rel", "%", per_level=True, trueness=True),
    _spread("s_r", "Repeatability standard deviation within runs", "s_r", "method", "repeatability", None),
    _spread("rsd_r", "Relative repeatability standard deviation within runs", "RSD_r", "%", "repeatability", None),
    _spread("s_intermediate", "Intermediate standard deviation of the control material", "s_I", "method", PRECISION,
            FEWEST_RUNS),
    _spread("rsd_intermediate", "Relative intermediate standard deviation of the control material", "RSD_I", "%",
            PRECISION, FEWEST_RUNS),
    _spread("s_long_term", "Long-term standard deviation, part of slow changes included", "s_lt", "method", PRECISION,
            FEWEST_GROUPS),
    _spread("rsd_long_term", "Relative long-term standard deviation", "RSD_lt", "%", PRECISION, FEWEST_GROUPS),
    _plain("control_centre", "Centre line", "c", "method", per_level=False),
    _plain("control_sigma", "Standard deviation of a point, for the limits", "σ", "method", per_level=False),
    _plain("control_lower", "Lower limit, 3 σ", "L_low", "method", per_level=False),
    _plain("control_upper", "Upper limit, 3 σ", "L_high", "method", per_level=False),
    _plain("signal_count", "Runs with a signal after the base period", "k", "", per_level=False),
    _plain("revalidation_triggers", "Triggers for revalidation that have fired", "m", "", per_level=False),
)  # fmt: skip
