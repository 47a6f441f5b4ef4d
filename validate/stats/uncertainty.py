"""Measurement uncertainty and decisions at a limit.

| question | function |
|---|---|
| u from precision and bias, of one material or several | `top_down`, `top_down_several` |
| u of results corrected for recovery | `top_down_corrected` |
| U = k·u | `expanded` |
| u over the working range | `level_model` (or `LevelModel` typed in), `fitness_uncertainty` |
| a law's default instead of an own budget | `default_uncertainty` |
| accept or reject at an upper limit, and with which risk | `decision`, `acceptance_limit`, `guard_band`, `risk_curve` |

Their text is in the modules `uncertainty_…`. None of them holds the sampling, which often outweighs all else.
"""

from validate.stats.uncertainty_budget import (
    Budget,
    Component,
    Expanded,
    expanded,
    top_down,
    top_down_corrected,
    top_down_several,
)
from validate.stats.uncertainty_decision import Decision, RiskCurve, acceptance_limit, decision, guard_band, risk_curve
from validate.stats.uncertainty_default import DEFAULT_RULES, DefaultRule, default_uncertainty
from validate.stats.uncertainty_level import LevelModel, fitness_uncertainty, level_model

__all__ = [
    "DEFAULT_RULES",
    "Budget",
    "Component",
    "Decision",
    "DefaultRule",
    "Expanded",
    "LevelModel",
    "RiskCurve",
    "acceptance_limit",
    "decision",
    "default_uncertainty",
    "expanded",
    "fitness_uncertainty",
    "guard_band",
    "level_model",
    "risk_curve",
    "top_down",
    "top_down_corrected",
    "top_down_several",
]
