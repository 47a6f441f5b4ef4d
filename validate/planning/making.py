"""From a checked protocol to the bench plan: orders, spikes, chances, sheets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from validate.criteria.designs import minimum_designs
from validate.criteria.resolving import comparisons
from validate.planning.chances import Decision, decisions
from validate.planning.order import Placed, Seed, arranged, letters, seed_of
from validate.planning.pipetting import Pipette, pipettes_of
from validate.planning.runs import log_sheet
from validate.planning.spiking import SpikeLine, Spiking
from validate.planning.workbook import FILE_NAME, EntrySheet, SheetColumn, sheet_names
from validate.protocol.bench import BenchPlan
from validate.protocol.loading import LoadedProtocol
from validate.protocol.settings import DataSource, StudySettings
from validate.provenance.design import design_hash
from validate.readiness.rules import RESULT_COLUMNS, result_columns
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

    @property
    def log(self) -> EntrySheet | None:
        """The sheet for the run log; None where the protocol names none."""
        protocol = self.loaded.protocol
        return None if protocol.runs is None else log_sheet(protocol, [sheet.name for sheet in self.sheets])


def make_plan(
    loaded: LoadedProtocol, studies: Mapping[str, Study], method: Method, criteria: Sequence[Criterion]
) -> Plan:
    """The plan of a protocol without errors, studies in the order of the protocol.

    A study that plans too much, and a spike that cannot be made, end in `problems`.
    """
    settings = loaded.protocol.plan or BenchPlan()
    pipettes = pipettes_of(settings.pipettes)
    making = _Making(
        loaded=loaded,
        method=method,
        criteria=criteria,
        seed=seed_of(loaded.protocol.id, loaded.protocol.edition, settings.seed),
        assumed=_assumed(settings),
        spiking=Spiking(loaded, pipettes, assumed=not settings.pipettes),
        sheets=sheet_names(list(loaded.protocol.studies)),
        guides=minimum_designs(loaded, studies, {}),
        owners={},
    )
    planned = [
        study
        for number, name in enumerate(loaded.protocol.studies)
        if (study := making.study(name, studies[name], letters(number))) is not None
    ]
    return Plan(
        loaded=loaded,
        seed=making.seed,
        design_hash=design_hash(loaded.protocol),
        pipettes=pipettes,
        pipettes_assumed=not settings.pipettes,
        studies=_with_shared_columns(planned, studies, method),
        problems=tuple(making.spiking.problems),
    )


@dataclass(frozen=True, kw_only=True)
class _Making:
    """What the plans of all studies of a protocol share."""

    loaded: LoadedProtocol
    method: Method
    criteria: Sequence[Criterion]
    seed: Seed
    assumed: Assumed
    spiking: Spiking
    sheets: Mapping[str, str]
    guides: tuple[MinimumDesign, ...]
    owners: dict[object, str]
    """Table → the first study that reads it."""

    def study(self, name: str, kind: Study, letter: str) -> PlannedStudy | None:
        """The plan of one study; None, and a problem, when it has too many positions."""
        settings = self.loaded.protocol.studies[name]
        plan = None if kind.plan is None else kind.plan(self._input(name, settings))
        if plan is not None and len(plan.positions) > MOST_POSITIONS:
            place = self.loaded.place("studies", name, "design")
            self.spiking.problems.append(PROBLEMS.problem("plan-too-large", place, study=name, most=MOST_POSITIONS))
            return None
        owner = self.owners.setdefault(_table_of(name, settings), name)
        shares = owner if owner != name else ""
        positions = plan.positions if plan is not None and not shares else ()
        placed = arranged(positions, seed=self.seed.value, study=name, letter=letter)
        has_sheet = not shares and not kind.without_table
        foresights, compared = plan.foresights if plan else (), comparisons(self.criteria, name)
        return PlannedStudy(
            name=name,
            kind=kind.kind,
            title=settings.title or kind.title,
            question=kind.question,
            settings=settings,
            plan=plan,
            placed=placed,
            spikes=self.spiking.lines(name, kind, placed),
            decisions=decisions(self._criteria(name), foresights, kind, self.assumed, compared),
            minimum_designs=tuple(line for line in self.guides if line.study == name),
            sheet=self._sheet(name, settings, kind, plan, placed) if has_sheet else None,
            shares=shares,
        )

    def _sheet(
        self, name: str, settings: StudySettings, kind: Study, plan: StudyPlan | None, placed: Iterable[Placed]
    ) -> EntrySheet:
        sheet = _sheet(self.sheets[name], name, settings, kind, plan, placed, self.method)
        if self.loaded.protocol.runs is None:
            return sheet
        return replace(sheet, columns=(*sheet.columns, *_columns_of_runs(sheet, settings, kind, self.method)))

    def _criteria(self, name: str) -> tuple[Criterion, ...]:
        return tuple(criterion for criterion in self.criteria if criterion.study == name)

    def _input(self, name: str, settings: StudySettings) -> PlanInput:
        return PlanInput(
            name=name,
            settings=settings,
            method=self.method,
            criteria=self._criteria(name),
            assumed=self.assumed,
            materials=reference_values(self.loaded.protocol.materials, self.method.unit),
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


def _columns_of_runs(sheet: EntrySheet, settings: StudySettings, kind: Study, method: Method) -> Iterable[SheetColumn]:
    """The columns that say in which run a result was made, where the sheet does not have them."""
    present = {column.header for column in sheet.columns} | {column.entry.role for column in sheet.columns}
    wanted = {column.role for column in RESULT_COLUMNS}
    source = settings.data or DataSource(file=FILE_NAME)
    for column in result_columns(tuple(_columns(settings, kind).values()), source):
        made = _sheet_column(settings, column, Entry(role=column.role), method)
        if column.role in wanted and not {made.header, column.role} & present:
            yield made


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
