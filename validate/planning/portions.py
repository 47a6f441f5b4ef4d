"""The test portion step by step, with the grams of sample that each volume stands for."""

from __future__ import annotations

from collections.abc import Iterator

from validate.planning.words import of_unit
from validate.protocol.model import Portion
from validate.vocabulary.quantity import Quantity, conversion_factor


def portion_steps(portion: Portion) -> Iterator[str]:
    """Each step in words; behind it the sample in it: g (or mL) of sample per mL, or on the column.

    Volumes are taken to add up, and the sample to fill none of the solvent's volume.
    """
    size, unit = _size(portion.weigh)
    yield f"weigh {_spaced(portion.weigh)}"
    content = None
    if portion.extract_in is not None:
        content = size / portion.extract_in.to("mL")
        yield f"extract in {_spaced(portion.extract_in)}: {_per_millilitre(content, unit)}"
    for step in portion.dilute:
        words = f"take {_spaced(step.take)}, add {_spaced(step.add)}"
        if content is not None:
            taken, added = step.take.to("mL"), step.add.to("mL")
            content *= taken / (taken + added)
            words += f": {_per_millilitre(content, unit)}"
        yield words
    if portion.load is not None:
        loaded = None if content is None else content * portion.load.to("mL")
        yield f"load {_spaced(portion.load)}" + ("" if loaded is None else f": {of_unit(loaded, unit)} of sample")
        content = loaded
    if portion.elute_in is not None:
        words = f"elute in {_spaced(portion.elute_in)}"
        if content is not None and portion.load is not None:
            words += f": {_per_millilitre(content / portion.elute_in.to('mL'), unit)}"
        yield words


def total_needed(portion: Portion, portions: int) -> str:
    """Sample needed for a number of portions, nothing to spare."""
    return of_unit(portions * portion.weigh.value, portion.weigh.unit)


def _size(weigh: Quantity) -> tuple[float, str]:
    try:
        return weigh.value * conversion_factor(weigh.unit, "g"), "g"
    except ValueError:
        return weigh.value * conversion_factor(weigh.unit, "mL"), "mL"


def _per_millilitre(content: float, unit: str) -> str:
    return f"{of_unit(content, unit)} of sample in {of_unit(1, 'mL')}"


def _spaced(quantity: Quantity) -> str:
    return of_unit(quantity.value, quantity.unit)
