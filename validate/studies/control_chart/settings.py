"""Keys of a control chart in the protocol, and the columns of its table."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import Count, Date, Label, LevelText, PositiveCount, PositiveNumber
from validate.protocol.settings import Model, StudySettings
from validate.tables.table import Column

INDIVIDUALS, MEAN_AND_RANGE = "individuals", "mean and range"
BASE, CERTIFIED = "base period", "certified value"
RUNS_DIFFER, WITHIN = "runs differ", "within runs"
ANY, EWMA, CUSUM = "any rule", "EWMA", "CUSUM"
CHANGES = ("lot", "calibration", "instrument")
RANGE = "range beyond its limit"
"""The one rule on the chart of ranges: of moving ranges, or of the ranges within runs."""
FEWEST_BASE = 20
"""Runs of a base period below which its limits are called provisional (common practice, no source)."""
RuleName = Literal[
    "beyond limits",
    "run of seven",
    "trend of seven",
    "run of eight",
    "run of nine",
    "trend of six",
    "fourteen alternating",
    "two of three beyond 2 s",
    "four of five beyond 1 s",
    "fifteen within 1 s",
    "eight outside 1 s",
    "range beyond its limit",
]


def _not_a_design(words: str) -> PydanticCustomError:
    return PydanticCustomError("not-a-design", words)  # type: ignore[arg-type]


class Base(Model):
    """The period that the limits come from: the first runs, or those up to a day."""

    runs: PositiveCount | None = Field(default=None, description="The first runs, so many.")
    until: Date | None = Field(default=None, description="Or: all runs up to this day; needs the column `date`.")

    @model_validator(mode="after")
    def _is_one_period(self) -> Self:
        if (self.runs is None) is (self.until is None):
            self.refuse([("runs", _not_a_design("either `runs` or `until` is expected"))])
        return self


class ChartLimits(Model):
    """Where centre and limits come from."""

    from_: Literal["base period", "certified value"] = Field(
        alias="from", description="`base period`: its mean; `certified value`: the value of a material."
    )
    base: Base | None = Field(default=None, description="The base period; gives the standard deviation as well.")
    material: Label | None = Field(default=None, description="For a certified value: its name under `materials`.")
    sd: PositiveNumber | None = Field(
        default=None,
        description="Standard deviation of a point in the method's unit, from earlier work, if not from the base.",
    )
    spread: Literal["runs differ", "within runs"] = Field(
        default=RUNS_DIFFER,
        description="For means: their own moving range, or the ranges within runs alone.",
    )

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        faults = []
        if self.from_ == BASE and self.base is None:
            faults.append(("from", _not_a_design("`base` is expected beside it")))
        if self.from_ == CERTIFIED and self.material is None:
            faults.append(("from", _not_a_design("`material` is expected beside it")))
        if self.base is None and self.sd is None:
            faults.append(("", _not_a_design("`base` or `sd` is expected: without either there is no spread")))
        self.refuse(faults)
        return self


class EwmaChart(Model):
    """Exponentially weighted moving average."""

    weight: PositiveNumber = Field(default=0.2, description="Weight of the newest run, up to 1.")
    width: PositiveNumber = Field(default=2.962, description="Limits in standard deviations of the average.")

    @model_validator(mode="after")
    def _has_a_weight(self) -> Self:
        if self.weight > 1:
            self.refuse([("weight", _not_a_design("a weight above 0, up to 1 is expected"))])
        return self


class CusumChart(Model):
    """Cumulative sums of deviations to either side."""

    allowance: PositiveNumber = Field(default=0.5, description="Slack k in standard deviations.")
    decision: PositiveNumber = Field(default=5.0, description="Decision interval h in standard deviations.")


class Trigger(Model):
    """A rule of the protocol: when it fires, the method is to be validated again."""

    on: RuleName | Literal["any rule", "EWMA", "CUSUM"] = Field(
        default=ANY, description="Which signals count: of any rule, of one rule, of EWMA or of CUSUM."
    )
    times: PositiveCount = Field(default=1, description="Runs with such a signal.")
    within_runs: PositiveCount | None = Field(default=None, description="Within so many runs in a row.")
    after_change_of: Literal["lot", "calibration", "instrument"] | None = Field(
        default=None, description="Only signals in the first `within_runs` runs after such a change."
    )

    @model_validator(mode="after")
    def _says_within_what(self) -> Self:
        faults = []
        if self.after_change_of is not None and self.within_runs is None:
            faults.append(("after_change_of", _not_a_design("`within_runs` is expected beside it")))
        if self.within_runs is not None and self.times > self.within_runs:
            faults.append(("times", _not_a_design("not more than `within_runs` is expected")))
        self.refuse(faults)
        return self


class Design(Model):
    """What the bench is to do."""

    runs: Count = Field(description="Runs in which the control material is measured.")
    replicates: PositiveCount = Field(default=1, description="Readings of the control material in each run.")


class ControlChartSettings(StudySettings):
    """A control material or check standard measured again and again."""

    kind: Literal["control_chart"]
    level: LevelText | None = Field(
        default=None, description="Nominal content of the control material, in the method's unit."
    )
    chart: Literal["individuals", "mean and range"] = Field(
        default=INDIVIDUALS, description="`individuals`: one value for each run; `mean and range`: several readings."
    )
    design: Design = Field(description="Runs and readings as planned.")
    limits: ChartLimits = Field(description="Where centre and limits come from.")
    rules: tuple[RuleName, ...] = Field(
        min_length=1, max_length=12, description="What counts as a signal; named before the record is looked at."
    )
    ewma: EwmaChart | None = Field(default=None, description="A chart that finds small lasting shifts.")
    cusum: CusumChart | None = Field(default=None, description="Another chart that finds small lasting shifts.")
    long_term_by: Literal["lot", "calibration", "instrument", "analyst"] = Field(
        default="lot", description="What changes slowly: its part is in the long-term standard deviation."
    )
    revalidate: dict[Label, Trigger] = Field(
        default_factory=dict, max_length=20, description="Name: when the method is to be validated again."
    )

    when_not_ready: Literal["mark"] | None = Field(
        default=None,
        description="`mark`: runs that were not ready stay on this chart, whatever `readiness` does with others.",
    )

    @property
    def keeps_not_ready(self) -> bool:
        return self.when_not_ready is not None

    @model_validator(mode="after")
    def _names_each_rule_once(self) -> Self:
        faults = []
        if len(set(self.rules)) < len(self.rules):
            faults.append(("rules", _not_a_design("each rule once is expected")))
        if self.level is not None and float(self.level) <= 0:
            faults.append(("level", _not_a_design("a content above 0 is expected")))
        self.refuse(faults)
        return self


COLUMNS = (
    Column(role="run", title="bench session, in order of time", type="label", identifies=True),
    Column(role="value", title="result of the control material or check standard", type="number", unit="method",
           censored=True),
    Column(role="replicate", title="number of the reading within the run", type="label", required=False,
           identifies=True),
    Column(role="date", title="day of the run", type="date", required=False),
    Column(role="lot", title="lot of kit or column", type="label", required=False),
    Column(role="calibration", title="name or date of the calibration in force", type="label", required=False),
    Column(role="instrument", title="instrument", type="label", required=False),
    Column(role="analyst", title="who measured", type="label", required=False),
)  # fmt: skip


def declared_levels(settings: ControlChartSettings) -> tuple[str, ...]:
    """The content of the control material, where it is declared."""
    return () if settings.level is None else (settings.level,)
