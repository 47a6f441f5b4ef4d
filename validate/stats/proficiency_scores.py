"""Scores of a round: how far a result lies from the assigned value, in units of what?"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from validate.stats._input import LARGEST, Floats

SLACK = 1e-9
"""A score this part beyond 2 or 3 stands on it: 12.4 is not exactly 10 + 3·0.8 in doubles."""


def z(x: ArrayLike, assigned: ArrayLike, sigma_pt: ArrayLike) -> Floats:
    """z = (x − x_pt)/σ_pt: this many times the SD that the scheme allows.

    Shapes broadcast; NaN in `x` (no result) stays NaN. σ_pt > 0, same unit as x; ValueError
    otherwise. Source: ISO 13528:2015 9.4 (from memory).

    >>> z([12.0, 10.0], 10.0, 0.8).tolist()
    [2.5, 0.0]
    """
    return _difference(x, assigned) / _spread(sigma_pt, "σ_pt")


def z_prime(x: ArrayLike, assigned: ArrayLike, sigma_pt: ArrayLike, u_assigned: ArrayLike) -> Floats:
    """z′ = (x − x_pt)/√(σ_pt² + u(x_pt)²), for an assigned value that is not known well enough.

    Assumes that x_pt does not depend on x. ValueError as for `z`. Source: ISO 13528:2015 9.5
    (from memory).

    >>> round(float(z_prime(12.0, 10.0, 0.8, 0.3125)), 5)
    2.32864
    """
    return _difference(x, assigned) / np.hypot(_spread(sigma_pt, "σ_pt"), _spread(u_assigned, "u(x_pt)", zero=True))


def zeta(x: ArrayLike, assigned: ArrayLike, u_x: ArrayLike, u_assigned: ArrayLike) -> Floats:
    """ζ = (x − x_pt)/√(u(x)² + u(x_pt)²): does the laboratory's own uncertainty cover its deviation?

    `u_x`: standard uncertainty (U/k) as the laboratory claims it; NaN where it gives none,
    and the score is then NaN. ValueError where both uncertainties are 0 or one is negative.
    Source: ISO 13528:2015 9.6 (from memory).

    >>> round(float(zeta(12.0, 10.0, 0.6, 0.3125)), 5)
    2.95638
    """
    return _difference(x, assigned) / _combined(u_x, u_assigned, "u")


def e_n(x: ArrayLike, assigned: ArrayLike, U_x: ArrayLike, U_assigned: ArrayLike) -> Floats:
    """E_n = (x − x_pt)/√(U(x)² + U(x_pt)²) with expanded uncertainties; |E_n| ≤ 1 is acceptable.

    Both with coverage near 95 %. NaN and ValueError as for `zeta`. Source: ISO 13528:2015
    9.7 (from memory).

    >>> round(float(e_n(12.0, 10.0, 1.2, 0.625)), 5)
    1.47819
    """
    return _difference(x, assigned) / _combined(U_x, U_assigned, "U")


def difference(x: ArrayLike, assigned: ArrayLike) -> Floats:
    """D = x − x_pt, in the unit of the result. Source: ISO 13528:2015 9.3 (from memory)."""
    return _difference(x, assigned)


def percent_difference(x: ArrayLike, assigned: ArrayLike) -> Floats:
    """D% = 100·(x − x_pt)/x_pt. x_pt > 0; ValueError otherwise. Source: ISO 13528:2015 9.3 (from memory)."""
    return 100 * _difference(x, assigned) / _spread(assigned, "x_pt")


def signals(scores: ArrayLike, *, kind: str) -> NDArray[np.int8]:
    """0 acceptable, 1 warning signal, 2 action signal; −1 where there is no score (NaN).

    `kind` "z" (also z′ and ζ): |score| ≤ 2 acceptable, ≥ 3 action, between them warning.
    `kind` "e_n": |E_n| ≤ 1 acceptable, otherwise action. Scores are not rounded; a part of
    1e-9 is allowed for the arithmetic of doubles. Source: ISO 13528:2015 9.4.2, 9.7 (from memory).

    >>> signals([2.0, 2.01, 3.0, float("nan")], kind="z").tolist()
    [0, 1, 2, -1]
    """
    if kind not in ("z", "e_n"):
        raise ValueError(f"kind must be 'z' or 'e_n', found {kind!r}")
    size = np.abs(np.asarray(scores, dtype=np.float64))
    warning, action = (2.0, 3.0) if kind == "z" else (1.0, 1.0 + 2 * SLACK)
    found = (size > warning * (1 + SLACK)).astype(np.int8)
    found += (size >= action * (1 - SLACK)).astype(np.int8)
    return np.where(np.isnan(size), np.int8(-1), found)


def _difference(x: ArrayLike, assigned: ArrayLike) -> Floats:
    values, target = np.asarray(x, dtype=np.float64), np.asarray(assigned, dtype=np.float64)
    if np.isinf(values).any() or not np.all(np.abs(target) <= LARGEST):
        raise ValueError("results must be finite (NaN for none), and the assigned value a finite number")
    return values - target


def _spread(value: ArrayLike, what: str, *, zero: bool = False) -> Floats:
    spread = np.asarray(value, dtype=np.float64)
    if not np.all((spread >= 0 if zero else spread > 0) & np.isfinite(spread)):
        raise ValueError(f"{what} must be a finite number {'not below' if zero else 'above'} 0")
    return spread


def _combined(of_x: ArrayLike, of_assigned: ArrayLike, what: str) -> Floats:
    own, other = np.asarray(of_x, dtype=np.float64), _spread(of_assigned, f"{what}(x_pt)", zero=True)
    if np.any(own < 0) or np.any(np.isinf(own)):
        raise ValueError(f"{what}(x) must be a finite number not below 0, or NaN where none is reported")
    together = np.hypot(own, other)
    if np.any(together == 0):
        raise ValueError(f"{what}(x) and {what}(x_pt) are both 0: the score has no scale")
    return together
