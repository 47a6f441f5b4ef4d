"""The protocol's portion as a chain for the arithmetic: volumes in mL, the sample in g or mL."""

from __future__ import annotations

from validate.protocol.model import Portion
from validate.stats.portion import Chain, Measured
from validate.vocabulary.quantity import Quantity, conversion_factor

TITLES = {
    "weigh": "Test portion",
    "extract_in": "Extraction volume",
    "take": "Volume taken for dilution",
    "add": "Volume added",
    "filter": "Volume filtered",
    "load": "Volume loaded",
    "elute_in": "Volume of the eluate",
}


def chain_of(portion: Portion) -> Chain:
    """The steps as numbers with their tolerances."""
    tolerances, unit = portion.tolerances, unit_of(portion.weigh)
    diluted = tolerances.dilute if tolerances else ()
    dilutions = []
    for i, step in enumerate(portion.dilute):
        own = diluted[i] if i < len(diluted) else None
        dilutions.append((_measured(step.take, own and own.take), _measured(step.add, own and own.add)))
    others = {
        name: _measured(quantity, getattr(tolerances, name, None))
        for name in ("extract_in", "filter", "load", "elute_in")
        if (quantity := getattr(portion, name)) is not None
    }
    return Chain(
        weigh=_measured(portion.weigh, tolerances and tolerances.weigh, unit),
        liquid=unit == "mL",
        dilute=tuple(dilutions),
        distribution=tolerances.distribution if tolerances else "rectangular",
        **others,
    )


def unit_of(weigh: Quantity) -> str:
    """`g` for a mass, `mL` for a volume."""
    try:
        conversion_factor(weigh.unit, "g")
    except ValueError:
        return "mL"
    return "g"


def _measured(quantity: Quantity, tolerance: Quantity | None, unit: str = "mL") -> Measured:
    return Measured(quantity.to(unit), None if tolerance is None else tolerance.to(unit))
