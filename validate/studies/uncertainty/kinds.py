"""The figures that an uncertainty study can give, in the words of the dossier."""

from __future__ import annotations

from validate.studies.uncertainty.settings import MINIMUM_GROUPS
from validate.vocabulary.finding import FindingKind

UNCERTAINTY = "measurement_uncertainty"


def _by_level(name: str, title: str, symbol: str, unit: str, characteristic: str = "") -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, characteristic=characteristic, per_level=True,
                       smaller_is_better=True, minimum_groups=MINIMUM_GROUPS)  # fmt: skip


def _at_limit(name: str, title: str, symbol: str, unit: str) -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, characteristic="", per_level=False)


FINDINGS = (
    _by_level("expanded_uncertainty", "Expanded uncertainty", "U", "method", UNCERTAINTY),
    _by_level("expanded_uncertainty_percent", "Expanded uncertainty in percent of the content", "U_rel", "%",
              UNCERTAINTY),
    _by_level("u_combined", "Combined standard uncertainty", "u", "method", UNCERTAINTY),
    _by_level("u_within", "Within-laboratory reproducibility as standard uncertainty", "s_Rw", "method"),
    _by_level("u_bias", "Standard uncertainty from bias", "u_b", "method"),
    _at_limit("default_uncertainty", "Default expanded uncertainty that the law allows", "U_d", "%"),
    _at_limit("acceptance_limit", "Acceptance limit: the highest result that is accepted", "A", "method"),
    _at_limit("worst_risk", "Worst risk of accepting a sample above the limit", "P_A", "%"),
    _at_limit("worst_rejection_risk", "Worst risk of rejecting a sample that is not above the limit", "P_R", "%"),
)  # fmt: skip

BY_NAME = {kind.name: kind for kind in FINDINGS}
