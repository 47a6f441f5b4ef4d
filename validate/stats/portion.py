"""From the weighed sample to what is read: sample represented, factor to the mass fraction, uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from validate.stats._input import number

DIVISORS = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6)}
_ROUNDING = 1e-9
"""9 mL taken from 3 · 3 mL is all of it, whatever the last binary digit says."""
Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Measured:
    """A mass (g) or volume (mL) and the tolerance ± a of balance or glassware in the same unit; None: not stated."""

    value: float
    tolerance: float | None = None


@dataclass(frozen=True)
class Chain:
    """The steps in their order; a dilution is the volume taken and the volume added to it.

    Volumes are taken to add up, and the sample to fill none of the solvent's volume.
    """

    weigh: Measured
    """Sample in g, or in mL where `liquid`."""
    liquid: bool = False
    extract_in: Measured | None = None
    dilute: tuple[tuple[Measured, Measured], ...] = ()
    filter: Measured | None = None
    load: Measured | None = None
    elute_in: Measured | None = None
    distribution: Literal["rectangular", "triangular"] = "rectangular"

    def steps(self) -> Iterator[tuple[Path, Measured]]:
        """Every mass and volume with its key path, in order."""
        yield ("weigh",), self.weigh
        if self.extract_in is not None:
            yield ("extract_in",), self.extract_in
        for i, (taken, added) in enumerate(self.dilute):
            yield ("dilute", i, "take"), taken
            yield ("dilute", i, "add"), added
        for name in ("filter", "load", "elute_in"):
            step = getattr(self, name)
            if step is not None:
                yield (name,), step


@dataclass(frozen=True)
class Impossible:
    """A step that cannot be, and why."""

    step: Path
    kind: Literal["zero", "more-than-there-is", "tolerance", "nothing-to-elute"]
    reason: str


@dataclass(frozen=True)
class Represented:
    """What the chain comes to.

    `contents` is the sample in 1 mL after extraction and after each dilution (g/mL or
    mL/mL). `sample` is the sample in the loaded volume (g or mL), None where nothing is
    loaded. `factor` turns the concentration in what is read (eluate, else the last
    extract) into the mass fraction (mL/g: ng/mL into ng/g), or the amount on the column
    where there is no eluate (1/g). `u_relative` is the relative standard uncertainty of
    the factor from the tolerances that are stated, None where none is; `shares` holds for
    each step its sensitivity and its part of `u_relative` (None without tolerance).
    """

    contents: tuple[float, ...]
    sample: float | None
    factor: float
    u_relative: float | None
    shares: tuple[tuple[Path, float, float | None], ...]


def impossibilities(chain: Chain) -> tuple[Impossible, ...]:
    """Every reason why a chain cannot be; empty for one that can.

    A mass or volume of zero or less; a volume taken, filtered or loaded that is larger than
    what was there; an eluate without a load; a tolerance below zero, or as large as the
    volume itself.
    """
    return tuple([*_sizes(chain), *_volumes(chain)])


def represented(chain: Chain) -> Represented | None:
    """Sample represented, factor and relative standard uncertainty; None when the steps do not say it.

    With the test portion W, the extraction volume V, dilutions of a with b, the load L and
    the eluate E, the sample is m = W/V · Π a/(a + b) · L and the factor E/m. The relative
    standard uncertainty is √(Σ (c·u(x)/x)²) with u(x) = tolerance/√3 (rectangular) or
    tolerance/√6 (triangular) and the sensitivity c of the logarithm of the factor: −1 for W
    and L, 1 for V and E, −b/(a + b) for a, b/(a + b) for b. Errors of the steps are taken as
    independent.

    Source: GUM (JCGM 100:2008) 4.3.7 (rectangular), 4.3.9 (triangular), 5.1.2 and 5.1.6
    (clauses from memory). ValueError for a chain that cannot be.
    """
    wrong = impossibilities(chain)
    if wrong:
        raise ValueError("; ".join(each.reason for each in wrong))
    content = _first_content(chain)
    if content is None or not (chain.extract_in or chain.dilute or chain.load):
        return None
    contents = [content]
    for taken, added in chain.dilute:
        contents.append(contents[-1] * taken.value / (taken.value + added.value))
    sample = None if chain.load is None else contents[-1] * chain.load.value
    eluate = chain.elute_in.value if chain.elute_in else 1.0
    factor = 1 / contents[-1] if sample is None else eluate / sample
    shares = tuple(_shares(chain))
    parts = [part for _, _, part in shares if part is not None]
    return Represented(
        contents=tuple(contents),
        sample=sample,
        factor=factor,
        u_relative=math.sqrt(math.fsum(part**2 for part in parts)) if parts else None,
        shares=shares,
    )


def _first_content(chain: Chain) -> float | None:
    if chain.extract_in is not None:
        return chain.weigh.value / chain.extract_in.value
    return 1.0 if chain.liquid else None


def _shares(chain: Chain) -> Iterator[tuple[Path, float, float | None]]:
    for path, step in chain.steps():
        sensitivity = _sensitivity(chain, path)
        if sensitivity is None:
            continue
        part = None
        if step.tolerance is not None:
            part = abs(sensitivity) * step.tolerance / DIVISORS[chain.distribution] / step.value
        yield path, sensitivity, part


def _sensitivity(chain: Chain, path: Path) -> float | None:
    """Of the logarithm of the factor to the logarithm of the step; None for a step that does not enter."""
    if path[0] == "dilute":
        taken, added = (step.value for step in chain.dilute[path[1]])
        return (-1 if path[2] == "take" else 1) * added / (taken + added)
    if path[0] == "weigh":
        return -1.0 if chain.extract_in is not None else None
    return {"extract_in": 1.0, "filter": None, "load": -1.0, "elute_in": 1.0}[path[0]]


def _sizes(chain: Chain) -> Iterator[Impossible]:
    for path, step in chain.steps():
        words = _words(path)
        value = number(step.value, words)
        if value <= 0:
            yield Impossible(path, "zero", f"{words} is {value:g}: a step of nothing, or less, cannot be")
        elif step.tolerance is not None and not 0 <= number(step.tolerance, f"tolerance of {words}") < value:
            reason = f"the tolerance of {words} is {step.tolerance:g}, which is no tolerance of {value:g}"
            yield Impossible(path, "tolerance", reason)


def _volumes(chain: Chain) -> Iterator[Impossible]:
    """Each volume against what was there before it."""
    there = chain.extract_in.value if chain.extract_in else chain.weigh.value if chain.liquid else None
    there_is = "extraction" if chain.extract_in else "taking the test portion"
    for i, (taken, added) in enumerate(chain.dilute):
        yield from _more(("dilute", i, "take"), taken.value, there, there_is)
        there, there_is = taken.value + added.value, "dilution"
    for name, after in (("filter", "filtration"), ("load", "loading")):
        step = getattr(chain, name)
        if step is not None:
            yield from _more((name,), step.value, there, there_is)
            there, there_is = step.value, after
    if chain.elute_in is not None and chain.load is None:
        yield Impossible(("elute_in",), "nothing-to-elute", "something is eluted and nothing was loaded")


def _more(path: Path, value: float, there: float | None, there_is: str) -> Iterator[Impossible]:
    if there is not None and value > there * (1 + _ROUNDING):
        reason = f"{_words(path)} is {value:g} mL, and after {there_is} there are {there:g} mL"
        yield Impossible(path, "more-than-there-is", reason)


def _words(path: Path) -> str:
    names = {
        "weigh": "the test portion",
        "extract_in": "the extraction volume",
        "take": "the volume taken for dilution",
        "add": "the volume added",
        "filter": "the filtered volume",
        "load": "the loaded volume",
        "elute_in": "the volume of the eluate",
    }
    return names[str(path[-1])]
