"""What is wrong, or worth telling, in the settings and the table of a round."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import islice, repeat

from validate.studies.contract import CheckInput
from validate.studies.proficiency_round.codes import problems_of_codes
from validate.studies.proficiency_round.designing import design_problems
from validate.studies.proficiency_round.history import NotARound, past_of
from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.targets import U_BEFORE, Target, targets_of
from validate.vocabulary.problem import Problem, ProblemCatalogue
from validate.vocabulary.quantity import conversion_factor, mass_fraction_per_unit

PROBLEMS = ProblemCatalogue(__file__)
PREDICTED = ("horwitz", "horwitz-aoac", "thompson")
MOST_CELLS = 20
MOST_LABORATORIES = 5_000
MOST_SCORES = 200_000


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """Problems of the settings, what the design can decide, then those of the table."""
    settings: ProficiencyRoundSettings = job.settings  # type: ignore[assignment]
    targets = targets_of(settings, job.method.measurand, job.method.unit)
    yield from _scale(job, settings, targets)
    yield from design_problems(job, settings, targets)
    yield from _earlier(job, settings)
    yield from _materials(job, settings)
    if job.table is not None:
        yield from _table(job, settings, targets)


def _scale(job: CheckInput, settings: ProficiencyRoundSettings, targets: tuple[Target, ...]) -> Iterator[Problem]:
    told = set()
    for target in targets:
        by = target.sigma_pt.by
        if by in PREDICTED and mass_fraction_per_unit(target.unit) is None and target.unit not in told:
            told.add(target.unit)
            yield PROBLEMS.problem(
                "round-unit-is-no-mass-fraction", job.place("sigma_pt", "by"), unit=target.unit, by=by
            )
    if settings.sigma_pt.by in PREDICTED and job.method.method_defined:
        yield PROBLEMS.problem("round-horwitz-of-defined", job.place("sigma_pt", "by"), by=settings.sigma_pt.by)
    if settings.sigma_pt.by == "this round":
        yield PROBLEMS.problem("round-sigma-of-itself", job.place("sigma_pt", "by"))
    if settings.items is None:
        yield PROBLEMS.problem("round-no-items", job.place())


def _earlier(job: CheckInput, settings: ProficiencyRoundSettings) -> Iterator[Problem]:
    for i, name in enumerate(settings.earlier_rounds):
        if name not in job.files:
            continue
        try:
            past = past_of(job.files[name])
        except NotARound as fault:
            yield PROBLEMS.problem("round-earlier-unread", job.place("earlier_rounds", i), file=name, why=str(fault))
            continue
        if any(each.round == settings.round for each in past):
            yield PROBLEMS.problem(
                "round-earlier-is-this", job.place("earlier_rounds", i), file=name, round=settings.round
            )


def _materials(job: CheckInput, settings: ProficiencyRoundSettings) -> Iterator[Problem]:
    """The studies behind the samples: there, of the kind that looks at units, and of one mind with the round."""
    examined = {name: each for name, each in job.others.items() if each.kind == "homogeneity"}
    for i, material in enumerate(settings.materials):
        study = examined.get(material.study)
        if study is None:
            yield PROBLEMS.problem(
                "round-no-such-material",
                job.place("materials", i, "study"),
                study=material.study,
                there=", ".join(examined) or "none",
            )
        elif study.when_not_sufficient != material.when_not_sufficient:
            yield PROBLEMS.problem(
                "round-two-consequences",
                job.place("materials", i, "when_not_sufficient"),
                study=material.study,
                there=study.when_not_sufficient,
                here=material.when_not_sufficient,
            )


def _table(job: CheckInput, settings: ProficiencyRoundSettings, targets: tuple[Target, ...]) -> Iterator[Problem]:
    frame = job.table.frame
    too_large = tuple(_size(job, targets))
    if too_large:
        yield from too_large
        return
    yield from problems_of_codes(job)
    yield from _units(job, settings, targets)
    if settings.layout == "long":
        yield from _undeclared(job, "sample", settings.samples)
        if settings.measurands:
            yield from _undeclared(job, "measurand", tuple(settings.measurands))
        names = [n for n in ("laboratory", "measurand", "sample", "replicate") if n in frame]
        results = ["result"]
    else:
        names = [n for n in ("laboratory", "replicate") if n in frame]
        results = [t.label for t in targets if t.label in frame]
        if not results:
            yield _no_column(job, targets)
            return
    repeated = frame[names][frame[names].duplicated(keep="first")]
    for row, *key in repeated.head(MOST_CELLS).itertuples(name=None):
        said = ", ".join(f"{name} {value}" for name, value in zip(names, key, strict=True))
        yield PROBLEMS.problem("round-twice", job.cell(row, "laboratory"), said=said)
    yield from _numbers(job, results)


def _size(job: CheckInput, targets: tuple[Target, ...]) -> Iterator[Problem]:
    """What can be evaluated, printed and set as pages in a time that somebody waits for."""
    laboratories = job.table.frame["laboratory"].nunique()
    place = job.cell(job.table.frame.index[0], "laboratory") if laboratories else job.place("data")
    if laboratories > MOST_LABORATORIES:
        values = {"count": f"{laboratories:,}", "most": f"{MOST_LABORATORIES:,}"}
        yield PROBLEMS.problem("round-too-many-laboratories", place, **values)
    elif laboratories * len(targets) > MOST_SCORES:
        values = {"laboratories": f"{laboratories:,}", "targets": f"{len(targets):,}", "most": f"{MOST_SCORES:,}",
                  "count": f"{laboratories * len(targets):,}"}  # fmt: skip
        yield PROBLEMS.problem("round-too-many-scores", place, **values)


def _no_column(job: CheckInput, targets: tuple[Target, ...]) -> Problem:
    names = ", ".join(t.label for t in targets[:8])
    uncertainty = U_BEFORE + targets[0].label
    return PROBLEMS.problem("round-no-column", job.place("data"), names=names, uncertainty=uncertainty)


def _undeclared(job: CheckInput, role: str, declared: tuple[str, ...]) -> Iterator[Problem]:
    column = job.table.frame[role]
    for row, name in column[~column.isin(declared)].head(MOST_CELLS).items():
        yield PROBLEMS.problem(
            "round-undeclared", job.cell(row, role), what=role, name=name, declared=", ".join(declared)
        )


def _units(job: CheckInput, settings: ProficiencyRoundSettings, targets: tuple[Target, ...]) -> Iterator[Problem]:
    frame = job.table.frame
    if settings.layout == "wide":
        wanted: Iterable[tuple[str, ...]] = repeat(tuple(dict.fromkeys(t.unit for t in targets)))
    elif "measurand" in frame and settings.measurands:
        units = {t.measurand: t.unit for t in targets}
        wanted = ((units.get(name, targets[0].unit),) for name in frame["measurand"])
    else:
        wanted = repeat((targets[0].unit,))
    if "unit" in frame:
        yield from islice(_unfit(job, wanted), MOST_CELLS)


def _unfit(job: CheckInput, wanted: Iterable[tuple[str, ...]]) -> Iterator[Problem]:
    """Rows whose unit cannot be converted to one of the units wanted of the row."""
    units = job.table.frame["unit"]
    for row, unit, targets in zip(units.index, units, wanted, strict=False):
        target = next((target for target in targets if unit and not _converts(unit, target)), None)
        if target is not None:
            yield PROBLEMS.problem("round-unit", job.cell(row, "unit"), unit=unit, target=target)


@lru_cache(maxsize=1024)
def _converts(unit: str, target: str) -> bool:
    try:
        conversion_factor(unit, target)
    except ValueError:
        return False
    return True


def _numbers(job: CheckInput, roles: list[str]) -> Iterator[Problem]:
    frame = job.table.frame
    first = job.cell(frame.index[0], roles[0]) if len(frame) else job.place("data")
    if not frame[roles].notna().any().any():
        yield PROBLEMS.problem("round-no-number", first)
    elif len(roles) == 1 and len(frame) > 2 and frame[roles[0]].dropna().nunique() == 1:
        value = f"{frame[roles[0]].dropna().iloc[0]:g}"
        yield PROBLEMS.problem("round-all-equal", first, value=value)
    for role in roles:
        for row, value in frame.loc[frame[role] < 0, role].head(MOST_CELLS).items():
            yield PROBLEMS.problem("round-negative", job.cell(row, role), value=f"{value:g}")
