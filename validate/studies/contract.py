"""What a kind of study gives and receives. One folder under `studies/` fulfils it.

A folder `studies/<kind>/` holds `study.py` with `STUDY`, `section.html`, `README.md`,
`tests/` and `example/` (a small protocol); a kind with a `plan` also `bench.html` (its part of
the bench sheet) and `starter.yaml` (one commented entry of `studies`, for `validate new`).
Nothing else in the package is edited to add it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from validate.protocol.settings import StudySettings
from validate.tables.table import Column, Table
from validate.vocabulary.bench import Assumed, StudyPlan
from validate.vocabulary.evaluation import Criterion, Requirement, StudyConclusion, StudyResult
from validate.vocabulary.finding import Finding, FindingKind, inside_sentence
from validate.vocabulary.leaflet import Packages
from validate.vocabulary.problem import Problem
from validate.vocabulary.verdict import Evidence, Verdict

ALPHA = 0.05
"""Error rate of a verdict by interval; 95 % at each end."""


@dataclass(frozen=True, kw_only=True)
class Method:
    """What a study needs to know of the method."""

    measurand: str
    unit: str
    mass_fraction_per_unit: float | None
    """Mass fraction (kg/kg) of one method unit; None when the unit is no mass fraction."""
    resolution: float | None
    floor: float | None
    limit: float | None
    scope_from: float | None
    scope_to: float | None
    method_defined: bool
    """True when the measurand is defined by the method itself: Horwitz does not apply."""


@dataclass(frozen=True, kw_only=True)
class ReferenceValue:
    """The value of a material of the protocol, converted to the method's unit.

    Only materials whose value has the method's kind of quantity become reference values;
    a standard solution in ng/mL is none for a method in µg/kg.
    """

    material: str
    value: float
    u: float | None
    """Standard uncertainty U/k; None when the protocol gives no U."""
    certificate: str = ""


@dataclass(frozen=True, kw_only=True)
class Need:
    """A finding of another kind of study that this kind builds on."""

    finding: str
    why: str
    """Half a sentence for the message: `the bias enters the uncertainty`."""
    required: bool = False
    """Whether the study cannot be evaluated at all without it."""


@dataclass(frozen=True, kw_only=True)
class NeededFinding:
    """A finding of an earlier study that a need asked for, with the verdicts on it."""

    study: str
    finding: Finding
    verdicts: tuple[Verdict, ...]
    """One for each criterion on the finding; empty when nothing judges it."""
    evidence: tuple[Evidence | None, ...] = ()
    """For each verdict by the estimate whether it is firm; None for one by the interval."""
    title: str = ""
    """As its kind of study prints it."""

    @property
    def words(self) -> str:
        """The finding inside a sentence."""
        return inside_sentence(self.title or self.finding.name)


@dataclass(frozen=True, kw_only=True)
class StudyInput:
    """What `evaluate` receives: settings, one typed table, the method, and K."""

    name: str
    settings: StudySettings
    table: Table | None
    """None only for a kind that declares `without_table`."""
    method: Method
    comparisons: int
    """K: judged level × criterion pairs of this study, missing levels included; at least 1."""
    materials: Mapping[str, ReferenceValue] = field(default_factory=dict)
    """Reference values by the name that the protocol gives the material."""
    needed: tuple[NeededFinding, ...] = ()
    """Findings of earlier studies that the kind declares as `needs`, with their verdicts."""
    files: Mapping[str, bytes] = field(default_factory=dict)
    """Content of the further files that the kind declares in `files`, by name."""

    @property
    def not_met_level(self) -> float:
        """Confidence level of the two-sided interval that shows `not met` (Bonferroni over K)."""
        return 1 - 2 * ALPHA / max(1, self.comparisons)


@dataclass(frozen=True, kw_only=True)
class CheckInput:
    """What the optional `check` of a study receives; `place` points at a key of the study or a cell."""

    name: str
    settings: StudySettings
    table: Table | None
    method: Method
    place: Callable[..., object]
    """`place("design", "levels", 2)`: Place of a key below this study in the protocol."""
    cell: Callable[[int, str], object]
    """`cell(row, role)`: Place of a cell in the table's file."""
    materials: Mapping[str, ReferenceValue] = field(default_factory=dict)
    files: Mapping[str, bytes] = field(default_factory=dict)
    """Content of the further files of the study that could be read, by name."""
    others: Mapping[str, StudySettings] = field(default_factory=dict)
    """The settings of the protocol's other studies, by name: what is declared in two places must agree."""


@dataclass(frozen=True, kw_only=True)
class PlanInput:
    """What the optional `plan` of a study receives, before there is any table."""

    name: str
    settings: StudySettings
    method: Method
    criteria: tuple[Criterion, ...]
    """Criteria and claims on this study, resolved to numbers, in the order of the protocol."""
    assumed: Assumed
    materials: Mapping[str, ReferenceValue] = field(default_factory=dict)

    def criterion(self, finding: str, level: str | None) -> Criterion | None:
        """The first criterion on a finding at a level, or None."""
        return next((c for c in self.criteria if c.finding == finding and c.level == level), None)


@dataclass(frozen=True, kw_only=True)
class PackageInput:
    """What the optional `packages` of a study receives, once everything is evaluated."""

    name: str
    settings: StudySettings
    method: Method
    result: StudyResult
    """As reported."""
    title: str
    """Heading of the study."""
    organiser: str
    """The laboratory of the protocol."""
    files: Mapping[str, bytes] = field(default_factory=dict)
    """The study's further files."""


@dataclass(frozen=True, kw_only=True)
class Study:
    """A kind of study, declared."""

    kind: str
    title: str
    question: str
    """The one question that it answers, in words for the first line of its section."""
    settings: type[StudySettings]
    columns: tuple[Column, ...]
    findings: tuple[FindingKind, ...]
    evaluate: Callable[[StudyInput], StudyResult]
    levels: Callable[[StudySettings], tuple[str, ...]]
    """The levels that the protocol declares for this study; empty when it has none."""
    check: Callable[[CheckInput], Iterable[Problem]] | None = None
    expected_by: tuple[str, ...] = ()
    """Purposes (`verification`, `validation`, …) that expect this study's characteristics."""
    columns_of: Callable[[StudySettings], tuple[Column, ...]] | None = None
    """Columns that depend on the settings (names of factors); `columns` when absent."""
    limits: Callable[[StudyInput, StudyResult], tuple[str, ...]] | None = None
    """Limits of use that follow from the design, in sentences."""
    needs: tuple[Need, ...] = ()
    """Findings of other kinds that this kind builds on; it is evaluated after them."""
    without_table: bool = False
    """True for a kind that works from needs alone; `StudyInput.table` is then None."""
    plan: Callable[[PlanInput], StudyPlan] | None = None
    """What the bench is to do and how the figures would scatter; see `vocabulary/bench.py`."""
    files: Callable[[StudySettings], tuple[str, ...]] | None = None
    """Further files of the protocol's folder that the kind reads (earlier evaluations); untrusted bytes."""
    conclude: Callable[[StudyResult, tuple[Requirement, ...]], StudyConclusion | None] | None = None
    """One verdict on what the study is about, once all its criteria are judged."""
    packages: Callable[[PackageInput], Packages] | None = None
    """What is given out beside the dossier: pages for single readers, tables, a report without what is confidential."""

    def finding(self, name: str) -> FindingKind | None:
        return next((f for f in self.findings if f.name == name), None)
