"""The evaluation: everything that was computed and judged, as it travels in evaluation.json.

The dossier is a rendering of these dataclasses and of the input bytes, and of nothing else.
"""

from __future__ import annotations

from dataclasses import field
from typing import Any, Literal

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN
from validate.vocabulary.finding import Finding, FindingKind, finding_id
from validate.vocabulary.inline import ShownInline
from validate.vocabulary.plot import Plot
from validate.vocabulary.portion import PortionResult
from validate.vocabulary.readiness import ReadinessResult
from validate.vocabulary.reissue import Reissue
from validate.vocabulary.result_table import ResultTable
from validate.vocabulary.result_table import TableColumn as TableColumn
from validate.vocabulary.seal import Seal
from validate.vocabulary.self_check import SelfCheckSummary
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class WiderBound:
    """A wider bound that holds only when other findings at the same level are met."""

    low: float | None
    high: float | None
    when_met: tuple[str, ...]
    wording: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Criterion:
    """A bound on one finding, resolved to numbers in the finding's unit before any result is seen."""

    kind: Literal["criterion", "claim"]
    study: str
    """Empty for a claim that no study of the protocol can answer."""
    finding: str
    title: str = ""
    """The finding in words."""
    level: str | None
    low: float | None
    high: float | None
    unit: str
    wording: str
    """The bound in words, for example `70 % to 120 %` or `at most 2 × Horwitz (45.3 %)`."""
    judge_by: JudgeBy
    source: str
    edition: str = ""
    clause: str = ""
    reason: str = ""
    exception: WiderBound | None = None
    minimum_n: int | None = None
    minimum_groups: int | None = None
    notes: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        return finding_id(self.study, self.finding, self.level)


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class PassChance:
    """The chance that a method truly at this value would have met the criterion in this design."""

    truth: str
    """In words: `0.75 of the bound`, `true mean at the upper limit`."""
    value: float
    chance: float
    unit: str | None = None
    """Unit of `value` where it is not that of the criterion."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Judgement:
    """The verdict on one criterion and why."""

    verdict: Verdict
    reason: str
    """One sentence in words an analyst can follow."""
    evidence: Evidence | None = None
    query: str = ""
    used_exception: bool = False
    worth: tuple[PassChance, ...] = ()


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Requirement:
    """One line of the requirement table: criterion, judgement as reported and as recorded."""

    criterion: Criterion
    as_reported: Judgement
    as_recorded: Judgement


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Varied:
    """What varied (or did not) among the results of a study: days, analysts, lots, instruments."""

    factor: str
    state: Literal["varied", "constant", "not recorded"]
    count: int | None = None
    detail: str = ""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class DesignFact:
    """One line on the design as carried out: `replicates per level and day`, `2`."""

    name: str
    planned: str
    carried_out: str
    short: bool = False


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Remark:
    """A sentence that the reader must not miss (`warning`), a `flag` that needs a reason, or a `note`."""

    kind: Literal["note", "flag", "warning"]
    text: str
    level: str | None = None
    rows: str = ""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class StudyResult:
    """What `evaluate` of a study returns."""

    findings: tuple[Finding, ...]
    design: tuple[DesignFact, ...] = ()
    varied: tuple[Varied, ...] = ()
    tables: tuple[ResultTable, ...] = ()
    plots: tuple[Plot, ...] = ()
    remarks: tuple[Remark, ...] = ()
    facts: dict[str, str] = field(default_factory=dict)
    """Short texts that the section template of this kind prints (contamination, words for the factor)."""

    def finding(self, name: str, level: str | None = None) -> Finding | None:
        return next((f for f in self.findings if f.name == name and f.level == level), None)


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class StudyConclusion:
    """One verdict on what a study is about, a new lot for instance, from the verdicts on all its criteria."""

    verdict: Verdict
    words: str
    """The study's own word for the verdict: `accept`, `do not accept`."""
    sentences: tuple[str, ...] = ()
    """What it rests on and, where it is not shown, what would decide it."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class StudyEvaluation:
    """One study of the protocol, evaluated twice: as recorded and as reported."""

    name: str
    kind: str
    title: str
    question: str
    kinds_of_finding: tuple[FindingKind, ...]
    data_file: str | None
    as_reported: StudyResult
    as_recorded: StudyResult
    limits: tuple[str, ...] = ()
    """Limits of use that follow from the design, in sentences."""
    conclusion: StudyConclusion | None = None
    """Only for a kind that concludes on something beyond its single criteria."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Gap:
    """A characteristic that the purpose expects and for which no finding exists."""

    characteristic: str
    title: str
    why: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class MinimumDesign:
    """What a guide asks for and what the design has."""

    study: str
    source: str
    clause: str
    asked: str
    present: str
    short: bool


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Amendment:
    """A corrected value; both stay."""

    file: str
    where: dict[str, str]
    column: str
    old: str
    new: str
    by: str
    on: str
    reason: str
    row: int


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Exclusion:
    """Rows left out, with a reason; they stay in the listing and in the figures as recorded."""

    file: str
    where: dict[str, str]
    by: str
    on: str
    reason: str
    rows: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class LeftOneOut:
    """The verdicts that differ when one exclusion is lifted while the others stay."""

    exclusion: int
    changed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class InputFile:
    """One file that was read, with its hash. `data` files carry how they were read."""

    name: str
    sha256: str
    size_bytes: int
    role: Literal["protocol", "table", "attachment", "seal", "superseded"]
    read_as: str = ""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Recorded:
    """A protocol key that is kept and shown but not evaluated by this version."""

    key: str
    title: str
    text: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Clause:
    """Where the dossier answers a clause of ISO/IEC 17025:2017."""

    clause: str
    title: str
    section: str
    anchor: str
    state: Literal["answered", "in part", "not answered", "not by this version"]


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class CatalogueExcerpt:
    """The entries of a published set that were used, word for word as shipped."""

    id: str
    title: str
    edition: str
    in_force_from: str
    in_force_until: str
    obtained: str
    note: str = ""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Conclusion:
    """Counts and sentences for the first page; the words come from the evaluation, not the template."""

    criteria: int
    met: int
    not_met: int
    not_shown: int
    firm: int
    by_estimate: int
    sentences: tuple[str, ...]
    changed_by_treatment: tuple[str, ...]
    """Criteria whose verdict differs between as recorded and as reported."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Evaluation(ShownInline):
    """The canonical content of evaluation.json, format 1."""

    format: Literal[1]
    software: str
    protocol: dict[str, Any]
    """The checked protocol as plain data (texts and numbers as read)."""
    inputs: tuple[InputFile, ...]
    conclusion: Conclusion
    studies: tuple[StudyEvaluation, ...]
    requirements: tuple[Requirement, ...]
    gaps: tuple[Gap, ...]
    minimum_designs: tuple[MinimumDesign, ...]
    amendments: tuple[Amendment, ...]
    exclusions: tuple[Exclusion, ...]
    left_one_out: tuple[LeftOneOut, ...]
    recorded_only: tuple[Recorded, ...]
    clauses: tuple[Clause, ...]
    catalogue: tuple[CatalogueExcerpt, ...]
    notices: tuple[str, ...]
    readiness: ReadinessResult | None = None
    """None without a run log."""
    seal: Seal | None = None
    """None when the protocol was not sealed."""
    reissue: Reissue | None = None
    """None when the protocol names no earlier evaluation or manifest."""
    self_check: SelfCheckSummary | None = None
    """What the software that evaluated says of its own check values."""
    portion: PortionResult | None = None
    """None when the protocol states no test portion."""
