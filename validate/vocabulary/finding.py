"""A finding: a computed figure with everything a reader needs to trust or redo it."""

from __future__ import annotations

from typing import Literal

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN
from validate.vocabulary.inline import ShownInline
from validate.vocabulary.verdict import Evidence, Verdict

COUNTED = "counted, no uncertainty"
"""Method of an interval whose ends are the figure itself, because it was counted."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Symbol:
    """One quantity that enters the working of a finding."""

    name: str
    """Key used in braces in the expression, for example `s_r`."""
    printed: str
    """The symbol as printed, for example `s_r` or `x̄`."""
    meaning: str
    value: float
    unit: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class LimitsWorking:
    """The arithmetic of both limits in the grammar of `Working`; `{value}` stands for the finding itself.

    The degrees of freedom are among the symbols where a quantile needs them, though no
    expression does.
    """

    low: str
    high: str
    symbols: tuple[Symbol, ...]


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Interval:
    """Limits of a finding at a stated confidence level.

    `use` says what the interval is for: `shown` (95 %, two-sided, for the reader only),
    `met` (90 % two-sided, that is 95 % at each end; proves that a criterion is met) or
    `not_met` (two-sided at 1 - 2·alpha/K for K comparisons of the study; proves that a
    criterion is not met). An end that does not exist (open) is None.
    """

    use: Literal["shown", "met", "not_met"]
    level: float
    low: float | None
    high: float | None
    method: str
    working: LimitsWorking | None = None
    """For the limits that are shown: how they are redone. None where that is no matter of a pocket calculator."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Working:
    """The arithmetic from intermediate sums to the finding, ready for a pocket calculator.

    `expression` uses `{name}` for the symbols, numbers, the signs + − · / ^ ( ) and √( ),
    and max(a, b) or min(a, b); `100 · {s_r} / {mean}` is an example. A test evaluates
    every expression and compares it with the finding.
    """

    expression: str
    symbols: tuple[Symbol, ...]


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Sampling:
    """How the estimate would scatter if the study were repeated (for the chance to pass).

    `kind` is `scaled_chi`: the estimate is a standard deviation or proportional to one,
    with `df`; `scaled_chi_sum`: the square is a sum of independent scaled chi-squares
    with the given `shares` of the total variance and their `dfs`, outermost first; where a
    negative component counts as 0, `floors` holds for each term after the first the mean
    square from the inside over the term (`stats.design.pass_probability`);
    `mean`: the estimate is a mean with standard error `se` on `df` degrees of freedom, in
    the finding's unit.
    """

    kind: Literal["scaled_chi", "scaled_chi_sum", "mean"]
    df: float | None = None
    se: float | None = None
    shares: tuple[float, ...] = ()
    dfs: tuple[float, ...] = ()
    floors: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Trials:
    """Samples of one spiked level, counted as detected or not.

    `low` and `high` are exact (Clopper-Pearson) limits of the share detected: `low` at 95 %,
    one-sided; `high` at 1 - alpha/K, one-sided, for `not met`.
    """

    level: str
    n: int
    detected: int
    low: float
    high: float


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class DetectionEvidence:
    """What confirms or refutes a claimed detection limit beside the figure itself."""

    blanks: int
    false_positives: int
    trials: tuple[Trials, ...]
    """In ascending order of their levels."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class LevelVerdict:
    """Whether a level meets the criteria that a figure is made of; `why` says it in half a sentence."""

    level: str
    verdict: Verdict
    evidence: Evidence | None
    """Whether it is firm, where the criteria are judged by the estimate."""
    why: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class RuleOutcome:
    """A published rule on the figure, and whether it holds; `why` says it in half a sentence."""

    name: str
    holds: bool
    why: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Rows:
    """Rows of one table, as ranges of file rows: `2-13, 15`."""

    file: str
    ranges: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Finding(ShownInline):
    """A figure computed by a study.

    `level` is the declared nominal value as decimal text in the method's unit, or None
    for a finding of the whole study. `value` is None when the figure cannot be computed;
    `reason` then says why. `blocked` lists reasons that forbid a verdict although there
    is a value (s = 0, s below half the resolution, censored results, extrapolated).
    `groups` is the number of days (or laboratories …) behind a between-group figure.
    A figure whose claim is proved otherwise than by its own value brings the evidence along:
    `detection` (a detection limit), `levels_judged` (a limit made of verdicts at levels), `rules`
    (from the strictest to the mildest: met where the first holds, not met where none does).
    """

    name: str
    level: str | None
    value: float | None
    unit: str
    reason: str | None = None
    blocked: tuple[str, ...] = ()
    intervals: tuple[Interval, ...] = ()
    n: int | None = None
    df: float | None = None
    groups: int | None = None
    formula: str
    source: str
    working: Working | None = None
    sampling: Sampling | None = None
    rows: tuple[Rows, ...] = ()
    notes: tuple[str, ...] = ()
    detection: DetectionEvidence | None = None
    levels_judged: tuple[LevelVerdict, ...] = ()
    rules: tuple[RuleOutcome, ...] = ()

    def interval(self, use: str) -> Interval | None:
        """The interval kept for `use`, or None when the study gave none."""
        return next((i for i in self.intervals if i.use == use), None)


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class FindingKind:
    """What a study says of a figure it can produce: the name that criteria use, and its words."""

    name: str
    title: str
    symbol: str
    unit: str
    """Unit as printed; `method` stands for the method's own unit."""
    characteristic: str
    """Performance characteristic that the figure covers, a key of criteria/characteristics.toml."""
    per_level: bool
    smaller_is_better: bool | None = None
    """True for a spread, None where the best value lies inside a range."""
    lower_bound_is_query: bool = False
    """True for HorRat: below the lower bound is `met` with a query, never `not met`."""
    minimum_n: int | None = None
    """Fewest results per level for a verdict when the criterion's source gives no number."""
    minimum_groups: int | None = None
    """Fewest groups (days) for a verdict when the criterion's source gives no number."""


def inside_sentence(title: str) -> str:
    """A title inside a sentence; names such as HorRat and RSD keep their capital."""
    first = title.split(maxsplit=1)[0] if title else ""
    return title if any(letter.isupper() for letter in first[1:]) else title[:1].lower() + title[1:]


def finding_id(study: str, name: str, level: str | None) -> str:
    """`study/finding` or `study/finding@level`; the bare name for a claim that no study answers."""
    stem = f"{study}/{name}" if study else name
    return stem if level is None else f"{stem}@{level}"
