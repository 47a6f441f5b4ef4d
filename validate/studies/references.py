"""Materials of the protocol as reference values in the method's unit."""

from __future__ import annotations

from collections.abc import Mapping

from validate.protocol.model import Material
from validate.studies.contract import ReferenceValue


def reference_values(materials: Mapping[str, Material], unit: str) -> dict[str, ReferenceValue]:
    """Every material whose value converts to `unit`: value and standard uncertainty U/k.

    U is in a unit of the value or, where the value is not in percent itself, in percent
    of it. A material of another kind of quantity (a standard solution for a method in
    µg/kg) is left out.
    """
    found = {}
    for name, material in materials.items():
        if material.value is None:
            continue
        try:
            value = material.value.to(unit)
            u = None if material.U is None else _expanded(material, value, unit) / material.k
        except ValueError:
            continue
        found[name] = ReferenceValue(material=name, value=value, u=u, certificate=material.certificate or "")
    return found


def _expanded(material: Material, value: float, unit: str) -> float:
    if material.U.unit == "%" and material.value.unit != "%":
        return value * material.U.value / 100
    return material.U.to(unit)
