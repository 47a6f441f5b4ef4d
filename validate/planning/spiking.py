"""The spikes of a study as lines of a table, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from validate.planning.order import Placed
from validate.planning.pipetting import Dose, Pipette, amount_to_add, dilution, dose, microlitres, solutions
from validate.planning.words import in_message, of_unit, short
from validate.protocol.loading import LoadedProtocol
from validate.studies.contract import Study
from validate.vocabulary.bench import Spike
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)


@dataclass(frozen=True)
class SpikeLine:
    """What every portion of one level gets."""

    level: str
    spike: Spike
    portions: int
    dose: Dose | None
    """None when no volume can be computed; a notice says why."""


class Spiking:
    """Computes spikes and collects the problems, each at its place in the protocol."""

    def __init__(self, loaded: LoadedProtocol, pipettes: tuple[Pipette, ...], *, assumed: bool) -> None:
        self.loaded, self.pipettes = loaded, pipettes
        self.assumed = " (supposed: the protocol names no pipettes)" if assumed else ""
        self.problems: list[Problem] = []

    def lines(self, study: str, kind: Study, placed: Sequence[Placed]) -> tuple[SpikeLine, ...]:
        """One line for each level and kind of spike, in the order of the levels."""
        counted: dict[tuple[str, Spike], int] = {}
        for each in placed:
            if each.position.spike is not None:
                key = (each.position.level or "", each.position.spike)
                counted[key] = counted.get(key, 0) + 1
        ordered = sorted(counted, key=lambda key: (key[1].content, key[0]))
        declared = kind.levels(self.loaded.protocol.studies[study])
        return tuple(
            SpikeLine(level, spike, counted[level, spike], self._dose(study, declared, level, spike))
            for level, spike in ordered
        )

    def _dose(self, study: str, declared: Sequence[str], level: str, spike: Spike) -> Dose | None:
        protocol = self.loaded.protocol
        here = self.loaded.place("studies", study)
        unknown = [name for name in spike.materials if name not in protocol.materials]
        if unknown:
            known = ", ".join(protocol.materials) or "none is there"
            place = self.loaded.place("studies", study, "spike_with")
            self._refuse("spike-unknown-material", place, study=study, material=unknown[0], known=known)
            return None
        among = solutions(protocol.materials, spike.materials)
        if not among:
            self._refuse("spike-no-solution", here, study=study)
            return None
        portion = protocol.method.portion
        if portion is None:
            self._refuse("spike-no-portion", here, study=study)
            return None
        amount = amount_to_add(spike.content, protocol.method.unit, portion.weigh)
        if amount is None:
            first = among[0]
            values = {"unit": protocol.method.unit, "portion": portion.weigh.text, "value": first.value.text}
            self._refuse("spike-unit", here, study=study, material=first.name, **values)
            return None
        made = dose(amount, among, self.pipettes)
        keys = ("design", "levels", declared.index(level)) if level in declared else ("design",)
        self._look(made, level or short(spike.content), self.loaded.place("studies", study, *keys), spike)
        return made

    def _look(self, made: Dose, level: str, place: Place, spike: Spike) -> None:
        protocol, solution = self.loaded.protocol, made.solution
        material = protocol.materials[solution.name]
        if material.expires is not None and material.expires < protocol.issued:
            where = self.loaded.place("materials", solution.name, "expires")
            dates = {"expires": material.expires.isoformat(), "issued": protocol.issued.isoformat()}
            self._refuse("spike-expired", where, material=solution.name, **dates)
        if made.deliverable:
            return
        smallest, largest = min(p.low for p in self.pipettes), max(p.high for p in self.pipettes)
        values = {
            "level": f"{level} {protocol.method.unit}",
            "volume": made.words,
            "material": solution.name,
            "smallest": microlitres(smallest),
            "largest": microlitres(largest),
            "assumed": self.assumed,
        }
        if made.size < smallest:
            factor = dilution(made.size, self.pipettes)
            self._refuse(
                "spike-below-pipette",
                place,
                factor=factor,
                diluted=of_unit(solution.value.value / factor, solution.value.unit),
                named=" and to `spike_with`" if spike.materials else "",
                new_volume=microlitres(made.size * factor),
                **values,
            )
        else:
            code = "spike-above-pipette" if made.size > largest else "spike-between-pipettes"
            self._refuse(code, place, **values)

    def _refuse(self, code: str, place: Place, **values: object) -> None:
        shown = {name: in_message(value) if isinstance(value, str) else value for name, value in values.items()}
        problem = PROBLEMS.problem(code, place, **shown)
        if problem not in self.problems:
            self.problems.append(problem)
