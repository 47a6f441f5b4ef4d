"""Patterns on a control chart that count as signals: points beyond limits, runs, trends.

The rules work on u = (x − centre)/sigma along the last axis, so that one series or many can be
examined at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray

from validate.stats._input import Floats, number, vector

Flags = NDArray[np.bool_]
SEED = 20310303


@dataclass(frozen=True)
class Rule:
    """One rule: what it looks for, how many points it looks back, where it comes from."""

    name: str
    words: str
    points: int
    source: str
    found: Callable[[Floats], Flags]
    """Values in standard deviations from the centre → True where the last of the points completes the pattern."""


@dataclass(frozen=True)
class Signal:
    """`rule` is complete at position `at` (from 0) by the points from `first` on; `side`: 1 above, −1 below, 0 both."""

    rule: str
    first: int
    at: int
    side: int


def signals(x: ArrayLike, *, centre: float, sigma: float, rules: Sequence[str]) -> tuple[Signal, ...]:
    """Where the named rules are complete, in the order of the points, then of the rules.

    `x`: the points in order of time; `sigma`: standard deviation of one point; `rules`: names of `RULES`.
    A pattern that goes on signals at every further point.

    Raises ValueError for an unknown rule, a missing value, or sigma that is not above 0.

    Source: ISO 7870-2:2013 (beyond limits, runs, trends of seven) and the supplementary tests of
    ISO 8258:1991 (all others); both from memory.

    >>> [(s.rule, s.at) for s in signals([0, 1, 4, 0], centre=0, sigma=1, rules=["beyond limits"])]
    [('beyond limits', 2)]
    """
    u = (vector(x, "point") - number(centre, "the centre")) / number(sigma, "sigma", above=0)
    found = []
    for place, rule in enumerate(_known(rules)):
        for at in np.flatnonzero(rule.found(u)):
            window = u[at - rule.points + 1 : at + 1]
            side = int(np.sign(window[-1])) if rule.name not in BOTH_SIDES else 0
            found.append((int(at), place, Signal(rule.name, int(at) - rule.points + 1, int(at), side)))
    return tuple(signal for _, _, signal in sorted(found, key=lambda each: each[:2]))


def run_length(rules: Sequence[str], *, shift: float = 0.0, sets: int = 1000, seed: int = SEED) -> tuple[float, float]:
    """Mean number of points up to the first signal and its standard error, by simulation.

    Independent normal points whose mean lies `shift` standard deviations off the centre; limits
    exactly known. Limits from a short base period alarm more often.

    Raises ValueError for no or an unknown rule, or fewer than 2 sets.
    """
    known = _known(rules)
    if not known or sets < 2:
        raise ValueError("a rule and 2 sets or more are needed")
    rng, back = np.random.default_rng(seed), max(rule.points for rule in known) - 1
    lengths, done = np.zeros(sets), 0
    open_sets, kept = np.arange(sets), np.empty((sets, 0))
    while len(open_sets):
        u = np.concatenate([kept, rng.normal(shift, 1, (len(open_sets), 256))], axis=1)
        flags = np.zeros(u.shape, dtype=bool)
        for rule in known:
            flags |= rule.found(u)
        flags[:, : kept.shape[1]] = False
        hit = flags.any(axis=1)
        lengths[open_sets[hit]] = done + np.argmax(flags[hit], axis=1) - kept.shape[1] + 1
        done += 256
        open_sets, kept = open_sets[~hit], u[~hit][:, -back:] if back else np.empty((int((~hit).sum()), 0))
    return float(lengths.mean()), float(lengths.std(ddof=1) / np.sqrt(sets))


def _known(rules: Sequence[str]) -> list[Rule]:
    unknown = [name for name in rules if name not in RULES]
    if unknown:
        raise ValueError(f"unknown rule: {', '.join(unknown)}; known are {', '.join(RULES)}")
    return [RULES[name] for name in rules]


def _of_last(flags: Flags, m: int, needed: int) -> Flags:
    """True where at least `needed` of the last `m` flags are set; never before there are m points."""
    whole = np.zeros(flags.shape, dtype=bool)
    if flags.shape[-1] >= m:
        whole[..., m - 1 :] = sliding_window_view(flags, m, axis=-1).sum(axis=-1) >= needed
    return whole


def _same_side(beyond: float, m: int, needed: int) -> Callable[[Floats], Flags]:
    """`needed` of the last `m` points beyond `beyond` sigma on one side, the last one among them."""

    def found(u: Floats) -> Flags:
        above, below = u > beyond, u < -beyond
        return (_of_last(above, m, needed) & above) | (_of_last(below, m, needed) & below)

    return found


def _trend(m: int) -> Callable[[Floats], Flags]:
    """`m` points each above, or each below, the one before."""

    def found(u: Floats) -> Flags:
        steps = np.diff(u, axis=-1)
        whole = np.zeros(u.shape, dtype=bool)
        whole[..., 1:] = _of_last(steps > 0, m - 1, m - 1) | _of_last(steps < 0, m - 1, m - 1)
        return whole

    return found


def _alternating(m: int) -> Callable[[Floats], Flags]:
    """`m` points that go up and down in turn."""

    def found(u: Floats) -> Flags:
        steps = np.sign(np.diff(u, axis=-1))
        whole = np.zeros(u.shape, dtype=bool)
        whole[..., 2:] = _of_last(steps[..., 1:] * steps[..., :-1] < 0, m - 2, m - 2)
        return whole

    return found


_SHEWHART, _SUPPLEMENTARY = "ISO 7870-2:2013 (from memory)", "supplementary test of ISO 8258:1991 (from memory)"
RULES: Mapping[str, Rule] = {
    rule.name: rule
    for rule in (
        Rule("beyond limits", "one point beyond 3 s", 1, _SHEWHART, lambda u: np.abs(u) > 3),
        Rule("run of seven", "seven points in a row on one side of the centre", 7, _SHEWHART, _same_side(0, 7, 7)),
        Rule("trend of seven", "seven points in a row that rise, or fall", 7, _SHEWHART, _trend(7)),
        Rule("run of eight", "eight points in a row on one side of the centre", 8, "common practice, no source",
             _same_side(0, 8, 8)),
        Rule("run of nine", "nine points in a row on one side of the centre", 9, _SUPPLEMENTARY, _same_side(0, 9, 9)),
        Rule("trend of six", "six points in a row that rise, or fall", 6, _SUPPLEMENTARY, _trend(6)),
        Rule("fourteen alternating", "fourteen points in a row up and down in turn", 14, _SUPPLEMENTARY,
             _alternating(14)),
        Rule("two of three beyond 2 s", "two of three points beyond 2 s on one side", 3, _SUPPLEMENTARY,
             _same_side(2, 3, 2)),
        Rule("four of five beyond 1 s", "four of five points beyond 1 s on one side", 5, _SUPPLEMENTARY,
             _same_side(1, 5, 4)),
        Rule("fifteen within 1 s", "fifteen points in a row within 1 s of the centre", 15, _SUPPLEMENTARY,
             lambda u: _of_last(np.abs(u) < 1, 15, 15)),
        Rule("eight outside 1 s", "eight points in a row with none within 1 s of the centre", 8, _SUPPLEMENTARY,
             lambda u: _of_last(np.abs(u) > 1, 8, 8)),
    )
}  # fmt: skip
BOTH_SIDES = ("fourteen alternating", "fifteen within 1 s", "eight outside 1 s", "trend of seven", "trend of six")
"""Rules whose pattern has no side of the centre."""
