"""Earlier lots: what their evaluations say, read from files that nobody vouches for.

Each file is an evaluation.json of bounded size whose form is checked as a whole; of its
content only the one comparison is used, and only after every figure was found possible.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from validate.stats.intervals import t_quantile
from validate.studies.lot_comparison.declared import Earlier
from validate.studies.lot_comparison.kinds import prefix_of
from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.vocabulary.evaluation import Evaluation, StudyEvaluation
from validate.vocabulary.finding import Finding

KIND = "lot_comparison"
LARGEST_BYTES = 10_000_000
WIDEST_RATIO = 100.0
"""Ratios outside 1/100 to 100 are no comparison of two lots of one kit."""
LONGEST_LABEL = 80


class NotUsable(Exception):
    """Why a file cannot be used: a code of `problems.toml` and its values."""

    def __init__(self, code: str, **values: object) -> None:
        super().__init__(code)
        self.code, self.values = code, values


@dataclass(frozen=True)
class Step:
    """One comparison of a new lot with an earlier one, on natural logarithms."""

    new: str
    current: str
    log_ratio: float
    se: float
    df: float
    n: int
    verdict: str
    """The word that its evaluation concluded with; empty for none."""

    @property
    def percent(self) -> float:
        return 100 * math.exp(self.log_ratio)


def read_step(content: bytes, entry: Earlier, factor: str, unit: str, measurand: str) -> Step:
    """The comparison in one file; raises NotUsable with the reason."""
    if len(content) > LARGEST_BYTES:
        raise NotUsable("history-too-large", limit=f"{LARGEST_BYTES / 1e6:.0f} MB")
    evaluation = _evaluation(content)
    told = evaluation.protocol.get("method")
    told = told if isinstance(told, dict) else {}
    for key, ours in (("measurand", measurand), ("unit", unit)):
        if told.get(key) != ours:
            raise NotUsable("history-of-another-method", key=key, found=told.get(key), expected=ours)
    study = _study(evaluation, entry.study)
    facts = study.as_reported.facts
    if facts.get("factor") != factor or facts.get("form") != "ratio":
        raise NotUsable("history-of-another-kind", factor=factor, found=f"{facts.get('factor')}, {facts.get('form')}")
    new, current = facts.get("new", ""), facts.get("current", "")
    if not (0 < len(new) <= LONGEST_LABEL and 0 < len(current) <= LONGEST_LABEL) or new == current:
        raise NotUsable("history-without-labels", study=study.name)
    word = study.conclusion.words if study.conclusion else ""
    finding = figure_over_all(study.as_reported.findings, factor)
    if finding is None:
        raise NotUsable("history-without-figure", study=study.name)
    _is_possible(finding, study.name)
    return step_of(finding, new=new, current=current, verdict=word)


def figure_over_all(findings: Iterable[Finding], factor: str) -> Finding | None:
    """The ratio over all levels, that of a study without levels, or the shift, with limits; None without any."""
    usable = {
        f.name: f for f in findings if f.level is None and f.value is not None and f.interval("shown") and f.df and f.n
    }
    names = (f"{prefix_of(factor)}_{name}" for name in ("ratio_overall", "ratio", "shift"))
    return next((usable[name] for name in names if name in usable), None)


def _is_possible(finding: Finding, study: str) -> None:
    shown = finding.interval("shown")
    ends = (shown.low, finding.value, shown.high)
    possible = all(end is not None and 100 / WIDEST_RATIO <= end <= 100 * WIDEST_RATIO for end in ends)
    if not possible or not shown.low < finding.value < shown.high or not 0.5 < shown.level < 1 or finding.df < 1:
        raise NotUsable("history-figure-impossible", study=study, figure=" to ".join(f"{end}" for end in ends))


def step_of(finding: Finding, **labels: str) -> Step:
    """A figure in percent as a step on logarithms; its standard error from its limits."""
    shown = finding.interval("shown")
    half = math.log(shown.high / shown.low) / 2
    return Step(
        log_ratio=math.log(finding.value / 100),
        se=half / t_quantile((1 + shown.level) / 2, finding.df),
        df=finding.df,
        n=finding.n,
        **labels,
    )


def _evaluation(content: bytes) -> Evaluation:
    from pydantic import ValidationError

    try:
        return _adapter().validate_json(content)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = "/".join(str(piece) for piece in first["loc"][:6])
        raise NotUsable("history-no-evaluation", where=where or "the file", why=first["msg"]) from None


@lru_cache(maxsize=1)
def _adapter() -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(Evaluation)


def _study(evaluation: Evaluation, name: str | None) -> StudyEvaluation:
    comparisons = [study for study in evaluation.studies if study.kind == KIND and name in (None, study.name)]
    if len(comparisons) == 1:
        return comparisons[0]
    present = ", ".join(study.name for study in evaluation.studies if study.kind == KIND) or "none"
    raise NotUsable("history-which-study", count=len(comparisons), present=present, name=name or "")


def earlier_steps(
    settings: LotComparisonSettings, files: Mapping[str, bytes], unit: str, measurand: str
) -> tuple[list[Step], list[tuple[int, NotUsable]]]:
    """The steps in the order of the protocol, and the reasons of those that cannot be used, by position."""
    steps: list[Step] = []
    faults: list[tuple[int, NotUsable]] = []
    for position, entry in enumerate(settings.history):
        if entry.file not in files:
            continue
        try:
            step = read_step(files[entry.file], entry, settings.factor, unit, measurand)
            _joins(step, steps, settings)
            steps.append(step)
        except NotUsable as reason:
            faults.append((position, reason))
    known = {steps[0].current, *(step.new for step in steps)} if steps else set()
    if steps and not faults and settings.current not in known:
        known_words = ", ".join(dict.fromkeys([steps[0].current, *(step.new for step in steps)]))
        faults.append((len(settings.history) - 1, NotUsable("history-broken", lot=settings.current, known=known_words)))
    return steps, faults


def _joins(step: Step, before: list[Step], settings: LotComparisonSettings) -> None:
    """A step starts from a lot that is known, and leads to one that is not."""
    known = [before[0].current, *(earlier.new for earlier in before)] if before else []
    if before and step.current not in known:
        raise NotUsable("history-broken", lot=step.current, known=", ".join(known))
    if step.new in known or step.new == settings.new:
        raise NotUsable("history-lot-twice", lot=step.new)
