"""From a checked protocol to the bench plan: orders, spikes, chances, sheets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from validate.criteria.designs import minimum_designs
from validate.criteria.resolving import comparisons
from validate.planning.chances import Decision, decisions
from validate.planning.order import Placed, Seed, arranged, letters, seed_of
from validate.planning.pipetting import Pipette, pipettes_of
from validate.planning.spiking import SpikeLine, Spiking
from validate.planning.workbook import EntrySheet, SheetColumn, sheet_names
from validate.protocol.bench import BenchPlan
from validate.protocol.loading import LoadedProtocol
from validate.protocol.settings import StudySettings
from validate.provenance.design import design_hash
from validate.studies.contract import Method, PlanInput, Study
from validate.studies.references import reference_values
from validate.tables.table import Column
from validate.vocabulary.bench import MOST_POSITIONS, Assumed, Entry, StudyPlan
from validate.vocabulary.evaluation import Criterion, MinimumDesign
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
OPEN_ROWS = 200
"""Empty rows in the sheet of a study whose kind has no plan."""


@dataclass(frozen=True, kw_only=True)
class PlannedStudy:
    """One study of the protocol at the bench."""

    name: str
    kind: str
    title: str
    question: str
    settings: StudySettings
    plan: StudyPlan | None
    """None for a kind that has no plan."""
    placed: tuple[Placed, ...]
    spikes: tuple[SpikeLine, ...]
    decisions: tuple[Decision, ...]
    minimum_designs: tuple[MinimumDesign, ...]
    sheet: EntrySheet | None
    """None for a kind without a table, and for a study that reads the table of another."""
    shares: str = ""
    """The study whose table this one reads."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The whole plan of a protocol."""

    loaded: LoadedProtocol
    seed: Seed
    design_hash: str
    pipettes: tuple[Pipette, ...]
    pipettes_assumed: bool
    studies: tuple[PlannedStudy, ...]
    problems: tuple[Problem, ...]

    @property
    def sheets(self) -> tuple[EntrySheet, ...]:
        return tuple(study.sheet for study in self.studies if study.sheet is not None)


def make_plan(
    loaded: LoadedProtocol, studies: Mapping[str, Study], method: Method, criteria: Sequence[Criterion]
) -> Plan:
    """The plan of a protocol without errors, studies in the order of the protocol."""
    protocol = loaded.protocol
    settings = protocol.plan or BenchPlan()
    seed = seed_of(protocol.id, protocol.edition, settings.seed)
    pipettes = pipettes_of(settings.pipettes)
    spiking = Spiking(loaded, pipettes, assumed=not settings.pipettes)
    names = sheet_names(list(protocol.studies))
    guides = minimum_designs(loaded, studies, {})
    planned: list[PlannedStudy] = []
    owners: dict[object, str] = {}
    for number, name in enumerate(protocol.studies):
        kind, of_study = studies[name], tuple(c for c in criteria if c.study == name)
        own, assumed = protocol.studies[name], _assumed(settings)
        plan = None
        if kind.plan is not None:
            materials = reference_values(protocol.materials, method.unit)
            plan = kind.plan(
                PlanInput(
                    name=name, settings=own, method=method, criteria=of_study, assumed=assumed, materials=materials
                )
            )
            if len(plan.positions) > MOST_POSITIONS:
                place = loaded.place("studies", name, "design")
                spiking.problems.append(PROBLEMS.problem("plan-too-large", place, study=name, most=MOST_POSITIONS))
                continue
        owner = owners.setdefault(_table_of(name, own), name)
        shares = owner if owner != name else ""
        positions = plan.positions if plan is not None and not shares else ()
        placed = arranged(positions, seed=seed.value, study=name, letter=letters(number))
        planned.append(
            PlannedStudy(
                name=name,
                kind=kind.kind,
                title=own.title or kind.title,
                question=kind.question,
                settings=own,
                plan=plan,
                placed=placed,
                spikes=spiking.lines(name, kind, placed),
                decisions=decisions(
                    of_study, plan.foresights if plan else (), kind, assumed, comparisons(criteria, name)
                ),
                minimum_designs=tuple(line for line in guides if line.study == name),
                sheet=None
                if shares or kind.without_table
                else _sheet(names[name], name, own, kind, plan, placed, method),
                shares=shares,
            )
        )
    return Plan(
        loaded=loaded,
        seed=seed,
        design_hash=design_hash(protocol),
        pipettes=pipettes,
        pipettes_assumed=not settings.pipettes,
        studies=_with_shared_columns(planned, studies, method),
        problems=tuple(spiking.problems),
    )


def _assumed(settings: BenchPlan) -> Assumed:
    given = settings.assume
    usual = Assumed()
    return Assumed(
        rsd_percent=given.rsd_percent,
        variance_ratio=usual.variance_ratio if given.variance_ratio is None else given.variance_ratio,
        power=usual.power if given.power_percent is None else given.power_percent / 100,
    )


def _table_of(name: str, settings: StudySettings) -> object:
    """What makes two studies readers of one table: the same file and sheet; a study without data stands alone."""
    if settings.data is None:
        return name
    return settings.data.file, settings.data.sheet


def _sheet(
    sheet: str,
    study: str,
    settings: StudySettings,
    kind: Study,
    plan: StudyPlan | None,
    placed: Iterable[Placed],
    method: Method,
) -> EntrySheet:
    columns = _columns(settings, kind)
    if plan is None:
        made = (_sheet_column(settings, column, Entry(role=column.role), method) for column in columns.values())
        return EntrySheet(sheet, study, tuple(made), ({},) * OPEN_ROWS)
    made = (_sheet_column(settings, columns[entry.role], entry, method) for entry in plan.entries)
    code = plan.code_role
    rows = tuple({**each.position.cells, **({code: each.code} if code else {})} for each in placed)
    return EntrySheet(sheet, study, tuple(made), rows)


def _columns(settings: StudySettings, kind: Study) -> dict[str, Column]:
    return {c.role: c for c in (kind.columns_of(settings) if kind.columns_of else kind.columns)}


def _sheet_column(settings: StudySettings, column: Column, entry: Entry, method: Method) -> SheetColumn:
    """Header as the protocol maps it, with the unit behind it."""
    source = settings.data
    name = source.columns.get(column.role, column.role) if source else column.role
    unit = method.unit if column.unit == "method" else column.unit
    unit = source.units.get(column.role, unit) if source else unit
    return SheetColumn(f"{name} [{unit}]" if unit else name, column, entry)


def _with_shared_columns(
    planned: Sequence[PlannedStudy], kinds: Mapping[str, Study], method: Method
) -> tuple[PlannedStudy, ...]:
    """A table that several studies read has the required columns of all of them."""
    from dataclasses import replace

    by_name = {study.name: study for study in planned}
    for study in planned:
        owner = by_name.get(study.shares)
        if owner is None or owner.sheet is None:
            continue
        present = {column.header for column in owner.sheet.columns}
        wanted = (
            _sheet_column(study.settings, column, Entry(role=column.role), method)
            for column in _columns(study.settings, kinds[study.name]).values()
            if column.required
        )
        added = tuple(column for column in wanted if column.header not in present)
        sheet = replace(owner.sheet, columns=(*owner.sheet.columns, *added))
        by_name[owner.name] = replace(owner, sheet=sheet)
    return tuple(by_name[study.name] for study in planned)
