"""The detection curve in formulas: how a level follows from the fitted coefficients."""

from __future__ import annotations

import math
from collections.abc import Callable

from scipy import special

from validate.stats.detection import DetectionCurve
from validate.studies.screening.cutting import symbol
from validate.vocabulary.finding import Symbol

PROBABILITIES = {"level_50": 0.50, "level_95": 0.95}
MODELS = {
    "cloglog": "p = 1 − exp(−e^a·x^b)",
    "cloglog-slope-1": "p = 1 − exp(−e^a·x)",
    "logit": "p = 1/(1 + e^(−a − b·ln x))",
    "probit": "p = Φ(a + b·ln x)",
}
FORMULAS = {
    (model, name): f"{form} from {curve}"
    for model, curve in MODELS.items()
    for name, p in PROBABILITIES.items()
    for form in (
        {
            "cloglog": f"x = (−ln {1 - p:.2g}/e^a)^(1/b)",
            "cloglog-slope-1": f"x = −ln {1 - p:.2g}/e^a",
            "logit": f"x = e^((ln({p:.2g}/{1 - p:.2g}) − a)/b)",
            "probit": f"x = e^((z({p:.2g}) − a)/b)",
        }[model],
    )
}
"""Model and finding → how the level is found."""

Expression = Callable[[DetectionCurve, tuple[str, float]], tuple[str, tuple[Symbol, ...]]]


def target_of(model: str, name: str) -> tuple[str, float]:
    """What stands for the probability in the formula, printed and as a number."""
    p = PROBABILITIES[name]
    if model.startswith("cloglog"):
        return f"−ln {1 - p:.2g}", -math.log1p(-p)
    if model == "logit":
        return f"ln({p:.2g}/{1 - p:.2g})", float(special.logit(p))
    return f"z({p:.2g})", float(special.ndtri(p))


def _of_rate(curve: DetectionCurve, target: tuple[str, float]) -> tuple[str, tuple[Symbol, ...]]:
    """1 − exp(−rate·x^b) solved for x."""
    parts = [
        symbol("target", target[0], "so that the share is reached", target[1]),
        symbol("rate", "e^a", "fitted rate at level 1", math.exp(curve.intercept)),  # type: ignore[arg-type]
    ]
    if curve.se_slope is None:
        return "{target} / {rate}", tuple(parts)
    parts.append(symbol("b", "b", "fitted slope over ln level", curve.slope))  # type: ignore[arg-type]
    return "({target} / {rate})^(1 / {b})", tuple(parts)


def _of_line(curve: DetectionCurve, target: tuple[str, float]) -> tuple[str, tuple[Symbol, ...]]:
    """link = a + b·ln x solved for x."""
    return "{e}^(({target} − {a}) / {b})", (
        symbol("e", "e", "Euler's number", math.e),
        symbol("target", target[0], "so that the share is reached", target[1]),
        symbol("a", "a", "fitted value at level 1", curve.intercept),  # type: ignore[arg-type]
        symbol("b", "b", "fitted slope over ln level", curve.slope),  # type: ignore[arg-type]
    )


EXPRESSIONS: dict[str, Expression] = {
    "cloglog": _of_rate,
    "cloglog-slope-1": _of_rate,
    "logit": _of_line,
    "probit": _of_line,
}
"""Model → the working of a level."""
