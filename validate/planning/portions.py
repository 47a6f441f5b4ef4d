"""The test portion step by step, with the grams of sample that each volume stands for."""

from __future__ import annotations

from collections.abc import Iterator

from validate.planning.words import of_unit
from validate.portion.chain import chain_of, unit_of
from validate.protocol.model import Portion
from validate.stats.portion import represented
from validate.vocabulary.quantity import Quantity


def portion_steps(portion: Portion) -> Iterator[str]:
    """Each step in words; behind it the sample in it: g (or mL) of sample per mL, or on the column."""
    made, unit = represented(chain_of(portion)), unit_of(portion.weigh)
    contents = made.contents if made else ()
    yield f"weigh {_spaced(portion.weigh)}"
    if portion.extract_in is not None:
        yield f"extract in {_spaced(portion.extract_in)}{_per_millilitre(contents[0], unit)}"
    for i, step in enumerate(portion.dilute, start=1):
        words = f"take {_spaced(step.take)}, add {_spaced(step.add)}"
        yield words + (_per_millilitre(contents[i], unit) if contents else "")
    if portion.filter is not None:
        yield f"filter {_spaced(portion.filter)}"
    if portion.load is not None:
        yield f"load {_spaced(portion.load)}" + (f": {of_unit(made.sample, unit)} of sample" if made else "")
    if portion.elute_in is not None:
        yield f"elute in {_spaced(portion.elute_in)}" + (_per_millilitre(1 / made.factor, unit) if made else "")


def total_needed(portion: Portion, portions: int) -> str:
    """Sample needed for a number of portions, nothing to spare."""
    return of_unit(portions * portion.weigh.value, portion.weigh.unit)


def _per_millilitre(content: float, unit: str) -> str:
    return f": {of_unit(content, unit)} of sample in {of_unit(1, 'mL')}"


def _spaced(quantity: Quantity) -> str:
    return of_unit(quantity.value, quantity.unit)
