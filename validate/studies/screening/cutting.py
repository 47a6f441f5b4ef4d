"""The cut-off, what it misses at the target, and how many negative samples lie beyond it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np

from validate.stats.screening import CutOff, Rate, cut_off, false_negative_rate, false_suspect_rate
from validate.studies.contract import ALPHA, StudyInput
from validate.studies.screening.samples import Group, Samples
from validate.studies.screening.settings import INVERSE, SIGNAL
from validate.vocabulary.finding import Finding, Interval, Symbol, Working

RULE = "Implementing Regulation (EU) 2023/2782, Annex II, 4.2.2"
OWN = "own limits by the noncentral t"
FORMULAS = {"proportional": "c = x̄ − t(0.95; n − 1)·s", "inverse": "c = x̄ + t(0.95; n − 1)·s"}
FAR_TAIL = "rests on a normal tail that nobody has seen: the counted share stands beside it"
FAR, FAR_OUT = 1e-3, 1e-6
"""Shares below which the tail is told to be a guess, and a lower limit no longer given. Own choice."""
SIGNS = {"proportional": "−", "inverse": "+"}


@dataclass(frozen=True)
class Cut:
    """The cut-off found, the one that sorts the samples, and why there is none."""

    samples: Samples
    found: CutOff | None
    reason: str
    in_use: float | None
    words: str

    @property
    def sign(self) -> int:
        """1 where readings beyond the cut-off are the high ones."""
        return -1 if self.samples.settings.response == INVERSE else 1

    def is_beyond(self, reading: float) -> bool:
        return self.sign * (reading - self.in_use) > 0  # type: ignore[operator]


def cut_of(samples: Samples) -> Cut | None:
    """The cut-off of the readings; None for a test that decides itself."""
    settings = samples.settings
    if settings.response is None:
        return None
    found, reason = _found(samples)
    side = "below" if settings.response == INVERSE else "above"
    if settings.cut_off is not None:
        at, where = settings.cut_off.value, f"the cut-off in use ({settings.cut_off.source})"
    elif found is not None:
        at, where = found.value, "the cut-off found here"
    else:
        return Cut(samples, None, reason, None, f"not sorted: no cut-off ({reason})")
    return Cut(samples, found, reason, at, f"reading {side} {at:.4g} {samples.unit}, {where}")


def _found(samples: Samples) -> tuple[CutOff | None, str]:
    group = samples.positives
    if group is None:
        return None, "the protocol names no target"
    if group.censored:
        return (
            None,
            f"{len(group.censored)} of {group.n} samples at the target gave no number: the scatter is not known",
        )
    try:
        return cut_off(group.readings, direction=samples.settings.response), ""  # type: ignore[arg-type]
    except ValueError as error:
        return None, str(error)


def cut_findings(cut: Cut) -> tuple[Finding, ...]:
    """Cut-off, share missed by it, share of negatives beyond it: for a protocol with a target or a cut-off in use."""
    made = []
    if cut.samples.positives is not None:
        made += [_cut_off(cut, cut.samples.positives), _missed(cut, cut.samples.positives)]
    if cut.samples.negatives.n or cut.samples.settings.design.negatives:
        made.append(_suspects(cut))
    return tuple(made)


def _cut_off(cut: Cut, group: Group) -> Finding:
    samples, direction = cut.samples, cut.samples.settings.response
    name = "cut_off_signal" if samples.settings.reads == SIGNAL else "cut_off"
    common = {"name": name, "level": None, "unit": samples.unit, "formula": FORMULAS[direction],  # type: ignore[index]
              "source": f"{RULE}; {OWN}", "rows": group.rows}  # fmt: skip
    if cut.found is None:
        return Finding(value=None, reason=cut.reason, n=group.n, **common)
    at = cut.found

    def limits(level: float) -> tuple[float, float]:
        again = cut_off(group.readings, direction=direction, level=level)  # type: ignore[arg-type]
        return again.low, again.high

    return Finding(
        value=at.value,
        blocked=(*_too_fine(samples, at.sd, "at the target"), *_reversed(cut)),
        intervals=intervals_of(samples.job, limits, "noncentral t, normal readings"),
        n=at.n,
        df=at.df,
        groups=group.days,
        working=Working(
            expression=f"{{mean}} {SIGNS[direction]} {{t}} · {{s}}",  # type: ignore[index]
            symbols=(
                symbol("mean", "x̄", "mean of the samples at the target", at.mean, samples.unit),
                symbol("t", "t", "one-sided 95 % point of Student's t, n − 1 degrees of freedom", at.t),
                symbol("s", "s", "their standard deviation", at.sd, samples.unit),
            ),
        ),
        notes=(stated_words(cut),),
        **common,
    )


def stated(cut: Cut) -> str:
    """The cut-off with as many significant figures as the target, as the rule asks."""
    exact = Decimal(repr(cut.found.value))  # type: ignore[union-attr]
    if not exact:
        return "0"
    place = exact.adjusted() - cut.samples.settings.target_figures + 1
    shown = exact.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN)
    return format(shown, "f")


def stated_words(cut: Cut) -> str:
    """The sentence that stands with the cut-off."""
    settings = cut.samples.settings
    figures = settings.target_figures
    digits = "1 significant figure" if figures == 1 else f"{figures} significant figures"
    return f"stated as {stated(cut)} {cut.samples.unit}: {digits}, as the target {settings.target} is written"


def _missed(cut: Cut, group: Group) -> Finding:
    common = {"name": "missed_by_cut_off", "level": None, "unit": "%", "rows": group.rows,
              "formula": "FN_c = 100·P(T ≤ −t/√(1 + 1/n)), T on n − 1 degrees of freedom",
              "source": "definition of Student's t, applied to the rule; " + OWN}  # fmt: skip
    if cut.found is None:
        return Finding(value=None, reason=cut.reason, n=group.n, **common)
    n, at = cut.found.n, cut.found

    def limits(level: float) -> tuple[float, float]:
        rate = false_negative_rate(n, level=level)
        return 100 * rate.low, 100 * rate.high

    share = false_negative_rate(n).estimate
    meaning = f"P(T ≤ −{at.t:.4g}/√(1 + 1/{n})), {at.df} degrees of freedom"
    return Finding(
        value=100 * share,
        blocked=_reversed(cut),
        intervals=intervals_of(cut.samples.job, limits, "noncentral t, normal readings"),
        n=n,
        df=at.df,
        groups=group.days,
        working=Working(expression="100 · {p}", symbols=(symbol("p", "p", meaning, share),)),
        notes=("mean of many cut-offs from so many samples; the limits hold the share of this one",),
        **common,
    )


def _suspects(cut: Cut) -> Finding:
    samples, group = cut.samples, cut.samples.negatives
    formula = "FS = 100·P(T ≥ t), t = (x̄₀ − c)/s₀" if cut.sign < 0 else "FS = 100·P(T ≥ t), t = (c − x̄₀)/s₀"
    common = {"name": "false_suspect_rate", "level": None, "unit": "%", "formula": formula,
              "source": f"{RULE}; {OWN}", "rows": group.rows}  # fmt: skip
    rate = suspects_of(cut)
    if isinstance(rate, str):
        return Finding(value=None, reason=rate, n=group.n, **common)

    def limits(level: float) -> tuple[float, float]:
        again = suspects_of(cut, level)
        low = 100 * again.low if share >= FAR_OUT else None  # type: ignore[union-attr]
        return low, 100 * again.high  # type: ignore[union-attr]

    share = rate.estimate
    mean, sd = float(np.mean(group.readings)), float(np.std(group.readings, ddof=1))
    meaning = f"P(T ≥ {rate.t:.4g}), {rate.df} degrees of freedom; mean {mean:.4g}, SD {sd:.4g}, c {cut.in_use:.4g}"
    return Finding(
        value=100 * share,
        blocked=(*_too_fine(samples, sd, "of the negative samples"), *_reversed(cut)),
        intervals=intervals_of(samples.job, limits, "noncentral t, normal readings"),
        n=group.n,
        df=rate.df,
        groups=group.days,
        working=Working(expression="100 · {p}", symbols=(symbol("p", "p", meaning, share),)),
        notes=(FAR_TAIL,) if share < FAR else (),
        **common,
    )


def suspects_of(cut: Cut, level: float = 0.95) -> Rate | str:
    """Share of negatives beyond the cut-off, or why there is none."""
    group = cut.samples.negatives
    if cut.in_use is None:
        return f"no cut-off: {cut.reason}"
    if group.censored:
        return f"{len(group.censored)} of {group.n} negative samples gave no number: count them instead"
    try:
        return false_suspect_rate(group.readings, cut.in_use, direction=cut.samples.settings.response, level=level)  # type: ignore[arg-type]
    except ValueError as error:
        return f"{error}; they are counted instead"


def _reversed(cut: Cut) -> tuple[str, ...]:
    return ("the negative samples read beyond those at the target: is the response of the other kind?",) if (
        is_reversed(cut.samples, cut.sign)
    ) else ()  # fmt: skip


def is_reversed(samples: Samples, sign: int) -> bool:
    """Whether the negatives lie, on average, on the far side of the samples at the target."""
    positives, negatives = samples.positives, samples.negatives
    if positives is None or not len(positives.readings) or not len(negatives.readings):
        return False
    return sign * (float(np.mean(negatives.readings)) - float(np.mean(positives.readings))) >= 0


def _too_fine(samples: Samples, sd: float, whose: str) -> tuple[str, ...]:
    step = samples.job.method.resolution
    if samples.settings.reads == SIGNAL or step is None or sd >= 0.5 * step:
        return ()
    return (f"readings {whose} scatter by less than half a step of the reading",)


def intervals_of(
    job: StudyInput, limits: Callable[[float], tuple[float | None, float | None]], method: str
) -> tuple[Interval, ...]:
    """95 % to be shown, 1 − 2α for `met`, 1 − 2α/K for `not met`."""
    made = []
    for use, level in (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", job.not_met_level)):
        low, high = limits(level)
        made.append(Interval(use=use, level=level, low=low, high=high, method=method))  # type: ignore[arg-type]
    return tuple(made)


def symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)


def normal_height(readings: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Normal curve of the readings' mean and SD, with height 1."""
    sd = float(np.std(readings, ddof=1))
    if not math.isfinite(sd) or sd == 0:
        return np.zeros_like(places)
    return np.exp(-0.5 * ((places - float(np.mean(readings))) / sd) ** 2)
