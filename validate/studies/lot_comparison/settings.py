"""What a protocol says of a comparison, and the criterion that follows from its margin or shift."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ModelWrapValidatorHandler, model_validator

from validate.protocol.fields import Label, YesNo
from validate.protocol.settings import OWN, Bound, StudySettings
from validate.studies.lot_comparison.declared import Design, Earlier, Margin, Shift, Spread, not_a_design
from validate.studies.lot_comparison.kinds import FactorName, prefix_of

SHIFT = "shift detection"
RATIO = "ratio"
MOST_EARLIER = 200


class LotComparisonSettings(StudySettings):
    """Keys of a study of kind `lot_comparison`."""

    kind: Literal["lot_comparison"]
    factor: FactorName = Field(default="lot", description="What is compared; also the name of its column.")
    new: Label = Field(description="Label of the new lot (analyst, instrument, site) in the table.")
    current: Label = Field(description="Label of the current one.")
    form: Literal["ratio", "difference"] = Field(
        default=RATIO, description="ratio: results scatter in proportion to the level; difference: by the same amount."
    )
    paired: YesNo = Field(default=True, description="Whether each sample was measured with both.")
    group_means: YesNo = Field(
        default=False, description="Whether limits rest on the means of the groups in column `group` (runs, days)."
    )
    design: Design = Field(description="Equivalence or shift detection, levels, samples.")
    margin: Margin | None = Field(default=None, description="For equivalence: judged by the 90 % interval.")
    shift: Shift | None = Field(default=None, description="For shift detection: gives the rejection limit.")
    spread: Spread | None = Field(
        default=None, description="Known repeatability: needed for shift detection, foretells for equivalence."
    )
    history: Annotated[tuple[Earlier, ...], Field(max_length=MOST_EARLIER)] = Field(
        default=(), description="Evaluations of earlier lots in the order of their use, from the validation lot on."
    )

    @property
    def is_ratio(self) -> bool:
        return self.form == RATIO

    @property
    def is_shift(self) -> bool:
        return self.design.kind == SHIFT

    @property
    def primary(self) -> str:
        """The finding that decides: on it stands the criterion that margin or shift give."""
        form = "ratio" if self.is_ratio else "difference"
        if self.is_shift:
            name = "shift" if self.is_ratio else "shift_difference"
        else:
            name = form if self.judged_by_level else f"{form}_overall"
        return f"{prefix_of(self.factor)}_{name}"

    @property
    def judged_by_level(self) -> bool:
        """Whether the finding of each level is judged; without levels the whole study is the one level."""
        return not self.design.levels or (self.margin is not None and self.margin.per == "level")

    @property
    def s_of_difference(self) -> float | None:
        """Known standard deviation of one difference (of logarithms for ratios); None when no spread is given."""
        if self.spread is None:
            return None
        single = self.spread.rsd_percent / 100 if self.is_ratio else self.spread.s_r
        return single * math.sqrt(2 / max(1, self.design.replicates or 1))

    @property
    def critical_shift(self) -> float | None:
        """The critical shift on the scale of the differences: for ratios the logarithm upwards, the harder side."""
        if self.shift is None:
            return None
        return math.log1p(self.shift.percent / 100) if self.is_ratio else self.shift.absolute

    @property
    def margin_ends(self) -> tuple[float, float]:
        """Margin (or critical shift) around 0 on the scale of the differences: logarithms for ratios."""
        if self.margin is not None:
            low, high = self.margin.ends
            return (math.log(low), math.log(high)) if self.is_ratio else (low, high)
        return -self.critical_shift, self.critical_shift

    @property
    def rejection_limit(self) -> float | None:
        """|mean difference| above which shift detection rejects, for the planned number of pairs."""
        if self.shift is None:
            return None
        from validate.stats.intervals import t_quantile

        t = t_quantile(1 - self.shift.false_alarm / 2, self.spread.df)
        return t * self.s_of_difference / math.sqrt(self.design.samples)

    def shown(self, difference: float) -> float:
        """A difference as the findings show it: a ratio in percent, or the difference itself."""
        return 100 * math.exp(difference) if self.is_ratio else difference

    @model_validator(mode="wrap")
    @classmethod
    def _decides_by_its_design(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Margin or shift become the criterion on the primary finding, so that the judge sees one like any other."""
        made = handler(data)
        made.refuse(not_a_design(made._faults()))
        bound = {"source": OWN, **(_of_shift(made) if made.is_shift else _of_margin(made))}
        return made.model_copy(update={"accept": {made.primary: Bound.model_validate(bound), **made.accept}})

    def _faults(self) -> Iterator[tuple[str, str]]:
        if self.new == self.current:
            yield "current", f"two labels are compared, and both are {self.new}: give each {self.factor} its own label"
        if len(set(self.design.levels)) != len(self.design.levels):
            yield "design", "every level stands once"
        if self.group_means and not self.paired:
            yield "group_means", "group means are taken of pairs: an unpaired comparison has none"
        yield from self._faults_of_shift() if self.is_shift else self._faults_of_equivalence()
        wanted = "rsd_percent" if self.is_ratio else "s_r"
        if self.spread is not None and getattr(self.spread, wanted) is None:
            yield "spread", f"the form {self.form} needs the spread as {wanted}"
        if self.history and not self.is_ratio:
            yield "history", "lots are followed as ratios: write form: ratio"

    def _faults_of_equivalence(self) -> Iterator[tuple[str, str]]:
        if self.margin is None:
            yield "margin", "an equivalence design needs a margin, for example {percent: 10, reason: …}"
        elif self.margin.is_absolute == self.is_ratio:
            yield "margin", f"a margin {_form_of(self.margin)} goes with form: {_form_of(self.margin, other=True)}"
        if self.shift is not None:
            yield "shift", "a shift belongs to kind: shift detection"
        if self.margin is not None and self.primary in self.accept:
            yield "accept", f"the bound on {self.primary} follows from the margin: leave it out here"

    def _faults_of_shift(self) -> Iterator[tuple[str, str]]:
        if not self.paired:
            yield "paired", "shift detection takes pairs"
        if self.margin is not None:
            yield "margin", "a margin belongs to kind: equivalence"
        if not self.design.samples:
            yield "design", "shift detection is set up for a number of pairs: write samples"
        for key, what in (("shift", "the critical shift"), ("spread", "the known repeatability with its df")):
            if getattr(self, key) is None:
                yield key, f"shift detection needs {what}"
        if self.shift is not None and (self.shift.percent is None) == self.is_ratio:
            yield "shift", f"the form {self.form} needs the shift as {'percent' if self.is_ratio else 'absolute'}"
        if self.primary in self.accept:
            yield "accept", f"the bound on {self.primary} follows from shift and spread: leave it out here"


def _form_of(margin: Margin, *, other: bool = False) -> str:
    if other:
        return "difference" if margin.is_absolute else "ratio"
    return "in the method's unit" if margin.is_absolute else "in percent"


def _of_margin(settings: LotComparisonSettings) -> dict[str, Any]:
    scale = 100 if settings.is_ratio else 1
    return {
        "between": [repr(scale * end) for end in settings.margin.ends],
        "judge_by": "interval",
        "reason": settings.margin.reason,
        "minimum_n": "2",
    }


def _of_shift(settings: LotComparisonSettings) -> dict[str, Any]:
    limit = settings.rejection_limit
    return {
        "between": [repr(settings.shown(end)) for end in (-limit, limit)],
        "judge_by": "estimate",
        "reason": settings.shift.reason,
        "minimum_n": str(settings.design.samples),
    }
