"""Minimum designs that guides ask for, as data, held against the design of a study."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass as plain_dataclass
from functools import lru_cache

from pydantic import TypeAdapter
from pydantic.dataclasses import dataclass

from validate.criteria.reading import FOLDER, read_toml
from validate.criteria.words import plain
from validate.protocol.loading import LoadedProtocol
from validate.protocol.settings import StudySettings
from validate.studies.contract import Study
from validate.vocabulary import FROZEN
from validate.vocabulary.evaluation import MinimumDesign, StudyResult, Varied
from validate.vocabulary.finding import Finding

OCCASIONS = ("day", "occasion", "date", "run", "session")
"""Factors that count as occasions, the first recorded one is taken."""
RELATIVE_SLACK = 1e-9


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class LevelPattern:
    """Levels as multiples of the limit, for one kind of limit."""

    name: str
    title: str
    times_limit: tuple[float, ...]

    def words(self) -> str:
        *first, last = [plain(multiple) for multiple in self.times_limit]
        return f"{', '.join(first)} and {last} × the {self.title}"


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Samples:
    """How many results must stand behind a figure; `planned` is the key of the study's settings that says as much."""

    finding: str
    title: str
    planned: str
    at_least: int


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Outcome:
    """What a figure must come to; `words` is the demand."""

    finding: str
    words: str
    at_most: float


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Routine:
    """What the study's settings must promise for daily use; `key` is the key that says it."""

    key: str
    words: str
    unit: str
    at_least: float | None = None
    at_most: float | None = None


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Design:
    """What one guide asks for."""

    id: str
    title: str
    source: str
    clause: str
    obtained: str
    results_per_level: int | None = None
    results: int | None = None
    occasions: int | None = None
    levels: tuple[LevelPattern, ...] = ()
    samples: tuple[Samples, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    routine: tuple[Routine, ...] = ()
    note: str = ""

    def asked(self) -> tuple[str, ...]:
        """The demands in words, for the listing."""
        return tuple(asked for asked, _ in self.demands())

    def demands(self) -> tuple[tuple[str, str], ...]:
        """(words, which): one pair for each line of the dossier."""
        lines = []
        if self.results is not None and self.occasions is not None:
            lines.append((f"{self.results} results on {self.occasions} occasions", "results on occasions"))
        elif self.occasions is not None:
            lines.append((f"results on {self.occasions} days", "occasions"))
        if self.results_per_level is not None:
            lines.append((f"{self.results_per_level} results at each level", "results per level"))
        if self.levels:
            lines.append(("levels at " + ", or ".join(each.words() for each in self.levels), "levels"))
        lines += [(f"{each.at_least} {each.title}", f"samples {i}") for i, each in enumerate(self.samples)]
        lines += [(each.words, f"outcome {i}") for i, each in enumerate(self.outcomes)]
        lines += [(each.words, f"routine {i}") for i, each in enumerate(self.routine)]
        return tuple(lines)


@plain_dataclass(frozen=True, kw_only=True)
class Present:
    """What a study has: results by level, occasions (None when not recorded), declared levels."""

    by_level: Mapping[str | None, int]
    occasions: int | None
    planned: bool
    settings: StudySettings
    result: StudyResult | None

    def setting(self, key: str) -> float | None:
        """A number of the settings by its key path (`design.negatives`)."""
        value: object = self.settings
        for part in key.split("."):
            value = getattr(value, part, None)
        return value if isinstance(value, int | float) else None

    def finding(self, name: str) -> Finding | None:
        return None if self.result is None else self.result.finding(name)

    @property
    def total(self) -> int:
        return sum(self.by_level.values())


@lru_cache(maxsize=1)
def designs() -> tuple[Design, ...]:
    """Every minimum design in `designs/`, in alphabetical order of its id."""
    adapter = TypeAdapter(Design)
    found = (adapter.validate_python(read_toml(path)) for path in (FOLDER / "designs").glob("*.toml"))
    return tuple(sorted(found, key=lambda each: each.id))


def minimum_designs(
    loaded: LoadedProtocol, studies: Mapping[str, Study], results: Mapping[str, StudyResult]
) -> tuple[MinimumDesign, ...]:
    """What each guide asks of each study, what the study has, and whether it falls short.

    A guide is held against a study that names it under `minimum_design`, and against every
    study with criteria when a set of the same name is in use. Counts come from the
    findings; without findings from the plan in the study's settings, and are marked so.
    """
    lines = []
    for name, kind in studies.items():
        settings = loaded.protocol.studies[name]
        present = _present(settings, kind.levels(settings), results.get(name))
        for design in _designs_for(settings, loaded.protocol.use):
            lines += _lines(name, design, present, loaded.protocol.method.limit)
    return tuple(lines)


def _designs_for(settings: StudySettings, use: Iterable[str]) -> list[Design]:
    wanted = {*settings.minimum_design, *(use if settings.accept else ())}
    return [design for design in designs() if design.id in wanted]


def _lines(study: str, design: Design, present: Present, limit: object) -> list[MinimumDesign]:
    answers = {
        "results on occasions": _results_on_occasions,
        "results per level": _results_per_level,
        "levels": lambda d, p: _levels(d, p, None if limit is None else limit.value),
        "occasions": _on_occasions,
        "samples": lambda d, p: _samples(d.samples[number], p),
        "outcome": lambda d, p: _outcome(d.outcomes[number], p),
        "routine": lambda d, p: _routine(d.routine[number], p),
    }
    lines = []
    for asked, which in design.demands():
        name, _, place = which.rpartition(" ")
        number = int(place) if place.isdigit() else 0
        words, short = answers[name if place.isdigit() else which](design, present)
        words += " (as planned)" if present.planned else ""
        source = f"{design.source} ({design.title})"
        lines.append(
            MinimumDesign(study=study, source=source, clause=design.clause, asked=asked, present=words, short=short)
        )
    return lines


def _results_on_occasions(design: Design, present: Present) -> tuple[str, bool]:
    if present.occasions is None:
        return f"{present.total} results; occasions not recorded", True
    short = present.total < design.results or present.occasions < design.occasions
    return f"{present.total} results on {_counted(present.occasions, 'occasion')}", short


def _on_occasions(design: Design, present: Present) -> tuple[str, bool]:
    if present.occasions is None:
        return "not recorded", True
    return _counted(present.occasions, "day"), present.occasions < (design.occasions or 0)


def _samples(asked: Samples, present: Present) -> tuple[str, bool]:
    finding = present.finding(asked.finding)
    found = present.setting(asked.planned) if present.planned else None if finding is None else finding.n
    number = int(found or 0)
    return f"{number} {asked.title}", number < asked.at_least


def _outcome(asked: Outcome, present: Present) -> tuple[str, bool]:
    finding = present.finding(asked.finding)
    if present.planned:
        return "known with the results", False
    if finding is None or finding.value is None:
        return "not known", True
    return f"{finding.value:.3g} {finding.unit}".strip(), finding.value > asked.at_most * (1 + RELATIVE_SLACK)


def _routine(asked: Routine, present: Present) -> tuple[str, bool]:
    found = present.setting(asked.key)
    if found is None:
        return "the protocol does not say", True
    too_few = asked.at_least is not None and found < asked.at_least
    too_many = asked.at_most is not None and found > asked.at_most
    return f"{found:g} {asked.unit}", too_few or too_many


def _results_per_level(design: Design, present: Present) -> tuple[str, bool]:
    if not present.by_level:
        return "no results", True
    level, fewest = min(present.by_level.items(), key=lambda each: each[1])
    most = max(present.by_level.values())
    short = fewest < design.results_per_level
    if fewest == most:
        return f"{_counted(fewest, 'result')} at each of {_counted(len(present.by_level), 'level')}", short
    return f"{fewest} to {_counted(most, 'result')}, fewest at level {level}", short


def _levels(design: Design, present: Present, limit: float | None) -> tuple[str, bool]:
    if not limit:
        return "the method has no limit to compare with", True
    multiples = [float(level) / limit for level, n in present.by_level.items() if level is not None and n]
    fits = next((pattern for pattern in design.levels if _holds_all(pattern, multiples)), None)
    words = ", ".join(plain(multiple) for multiple in multiples) or "no level"
    return f"{words} × the limit" + (f" (includes {fits.words()})" if fits else ""), fits is None


def _holds_all(pattern: LevelPattern, multiples: list[float]) -> bool:
    wanted = pattern.times_limit
    return all(any(math.isclose(each, one, rel_tol=RELATIVE_SLACK) for one in multiples) for each in wanted)


def _present(settings: StudySettings, levels: tuple[str, ...], result: StudyResult | None) -> Present:
    if result is None or not result.findings:
        return _planned(settings, levels)
    counted: dict[str | None, int] = dict.fromkeys(levels, 0)
    for finding in result.findings:
        if finding.n is not None and (finding.level is not None or not levels):
            counted[finding.level] = max(counted.get(finding.level, 0), finding.n)
    return Present(by_level=counted, occasions=_occasions(result.varied), planned=False, settings=settings,
                   result=result)  # fmt: skip


def _occasions(varied: Iterable[Varied]) -> int | None:
    states = {each.factor.casefold().removesuffix("s"): each for each in varied}
    for name in OCCASIONS:
        found = states.get(name)
        if found is not None and found.state != "not recorded":
            return found.count if found.count is not None else (1 if found.state == "constant" else None)
    return None


def _planned(settings: StudySettings, levels: tuple[str, ...]) -> Present:
    """The counts that the settings declare, under the names that designs of studies share."""
    plan = getattr(settings, "design", None)
    replicates = getattr(plan, "replicates", None) or 0
    occasions = getattr(plan, "days", None)
    blocks = occasions or getattr(plan, "groups", None) or 1
    return Present(by_level=dict.fromkeys(levels or (None,), replicates * blocks), occasions=occasions, planned=True,
                   settings=settings, result=None)  # fmt: skip


def _counted(number: int, name: str) -> str:
    return f"{number} {name}{'' if number == 1 else 's'}"
