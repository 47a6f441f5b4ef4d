"""Samples as counted: suspect or not by level, the curve over the levels, agreement with a reference method."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from validate.stats.comparison import Classification, classification
from validate.stats.detection import DetectedLevel, DetectionCurve, Proportion, probability_of_detection
from validate.stats.screening import rates
from validate.studies.screening.curves import EXPRESSIONS, FORMULAS, target_of
from validate.studies.screening.cutting import Cut, intervals_of, symbol
from validate.studies.screening.kinds import AGREEMENT
from validate.studies.screening.samples import Group, Samples
from validate.vocabulary.finding import Finding, Rows, Working

COUNTED = "counted; exact limits after C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413 (from memory)"
CURVE = "P. McCullagh, J. A. Nelder, Generalized Linear Models, chapter 4 (from memory)"
FEWEST_LEVELS = 2


@dataclass(frozen=True)
class Counted:
    """Samples of one level, and what became of them. `undecided` rows have a mark that tells neither."""

    group: Group
    suspect: tuple[int, ...]
    cleared: tuple[int, ...]
    undecided: tuple[int, ...]

    @property
    def n(self) -> int:
        return len(self.suspect) + len(self.cleared)


@dataclass(frozen=True)
class Counts:
    """Every level as counted, or the reason why nothing could be."""

    samples: Samples
    by_level: dict[str, Counted]
    words: str
    reason: str
    curve: DetectionCurve | None
    no_curve: str

    @property
    def with_analyte(self) -> tuple[Counted, ...]:
        return tuple(self.by_level[group.level] for group in self.samples.with_analyte if group.level in self.by_level)

    @property
    def negatives(self) -> Counted | None:
        return self.by_level.get("0")


def count(samples: Samples, cut: Cut | None) -> Counts:
    """Count by what the test said, or by the cut-off."""
    if cut is not None and cut.in_use is None:
        return Counts(samples, {}, cut.words, f"no cut-off: {cut.reason}", None, f"no cut-off: {cut.reason}")
    words = "as the test itself says" if cut is None else cut.words
    counted = {group.level: sort(group, cut, samples) for group in (*samples.groups, samples.compared) if group.n}
    made = Counts(samples, counted, words, "", None, "")
    if samples.settings.curve is None:
        return made
    try:
        curve = curve_of(made)
    except ValueError as error:
        return replace(made, no_curve=str(error))
    return replace(made, curve=curve if curve.level_50 is not None else None, no_curve=curve.reason or "")


def sort(group: Group, cut: Cut | None, samples: Samples) -> Counted:
    """The rows of a group that are suspect, those that are not, and those of which it cannot be said."""
    role = samples.settings.role
    if cut is None:
        said = group.frame[role].str.strip().str.lower()
        verdicts = [word == "yes" for word in said]
    else:
        pairs = zip(group.frame[role].tolist(), group.marks.tolist(), strict=True)
        verdicts = [_verdict(value, mark, cut) for value, mark in pairs]
    rows = [int(row) for row in group.frame.index]
    chosen = {
        state: tuple(row for row, is_it in zip(rows, verdicts, strict=True) if is_it is state)
        for state in (True, False, None)
    }
    return Counted(group, chosen[True], chosen[False], chosen[None])


def _verdict(value: float, mark: str, cut: Cut) -> bool | None:
    """A number is beyond the cut-off or not; `<2` and `>50` may tell as much; `n.d.` is the lowest reading there is."""
    if value == value:
        return cut.is_beyond(value)
    at = cut.in_use
    if mark[:1] in "<>":
        try:
            end = float(mark[1:])
        except ValueError:
            end = None
        if end is None:  # `<LOQ`: below what can be read
            return cut.sign < 0 if mark.startswith("<") else None
        if mark.startswith("<"):
            return (cut.sign < 0) if end <= at else None  # type: ignore[operator]
        return (cut.sign > 0) if end >= at else None  # type: ignore[operator]
    return cut.sign < 0


def count_findings(counts: Counts) -> tuple[Finding, ...]:
    """Missed samples at the target, suspect negatives, shares by level, levels of the curve, agreement."""
    samples, made = counts.samples, []
    if samples.positives is not None:
        made.append(_share(counts, "false_negative_rate", samples.positives, missed=True))
    if samples.negatives.n or samples.settings.design.negatives:
        made.append(_share(counts, "false_positive_rate", samples.negatives))
    made += [
        replace(_share(counts, "detection_rate", group), level=group.level)
        for group in samples.with_analyte
        if group.level in samples.settings.levels
    ]
    if samples.settings.curve is not None:
        made += [_level(counts, name) for name in ("level_50", "level_95")]
    if samples.settings.design.compared:
        made += [_agreement(counts, name) for name in AGREEMENT]
    return tuple(made)


def _share(counts: Counts, name: str, group: Group, *, missed: bool = False) -> Finding:
    what = "missed" if missed else "suspect"
    common = {"name": name, "level": None, "unit": "%", "formula": f"100·{what}/n", "source": COUNTED,
              "rows": group.rows}  # fmt: skip
    counted = counts.by_level.get(group.level)
    if counted is None or not counted.n:
        return Finding(value=None, reason=counts.reason or "no sample of this level has a result", n=group.n, **common)
    hits = len(counted.cleared if missed else counted.suspect)

    def limits(level: float) -> tuple[float, float]:
        share = rates(hits, counted.n, level=level).detected
        return 100 * share.low, 100 * share.high

    return Finding(
        value=100 * hits / counted.n,
        blocked=("some readings tell neither suspect nor not",) if counted.undecided else (),
        intervals=intervals_of(counts.samples.job, limits, "Clopper-Pearson"),
        n=counted.n,
        groups=group.days,
        working=_of_counts(hits, counted.n, f"samples that were {what}"),
        **common,
    )


def _of_counts(hits: int, n: int, words: str) -> Working:
    return Working(
        expression="100 · {x} / {n}", symbols=(symbol("x", "x", words, hits), symbol("n", "n", "samples", n))
    )


def curve_of(counts: Counts, confidence: float = 0.95) -> DetectionCurve:
    """The curve through the shares above 0; ValueError says why there is none."""
    used = [each for each in counts.with_analyte if each.n]
    if len(used) < FEWEST_LEVELS:
        raise ValueError(f"levels with samples: {len(used)}, at least {FEWEST_LEVELS} are needed")
    return probability_of_detection(
        [float(each.group.level) for each in used],
        [each.n for each in used],
        [len(each.suspect) for each in used],
        model=counts.samples.settings.curve.model,  # type: ignore[union-attr]
        confidence_level=confidence,
    )


def _level(counts: Counts, name: str) -> Finding:
    samples, used = counts.samples, [each for each in counts.with_analyte if each.n]
    model = samples.settings.curve.model  # type: ignore[union-attr]
    rows: tuple[Rows, ...] = (samples.table.rows([row for each in used for row in each.group.frame.index]),)  # type: ignore[arg-type]
    common = {"name": name, "level": None, "unit": samples.job.method.unit, "formula": FORMULAS[model, name],
              "source": CURVE, "n": sum(each.n for each in used), "rows": rows}  # fmt: skip
    if counts.curve is None:
        return Finding(value=None, reason=counts.no_curve, **common)
    at: DetectedLevel = getattr(counts.curve, name)
    if at.value is None:
        return Finding(value=None, reason=at.reason, **common)

    def limits(level: float) -> tuple[float | None, float | None]:
        again: DetectedLevel = getattr(curve_of(counts, level), name)
        return again.low, again.high

    expression, symbols = EXPRESSIONS[model](counts.curve, target_of(model, name))
    return Finding(
        value=at.value,
        blocked=("the level lies outside those that were tried",) if at.extrapolated else (),
        intervals=intervals_of(samples.job, limits, "profile likelihood"),
        working=Working(expression=expression, symbols=symbols),
        notes=(at.reason,) if at.reason else (),
        **common,
    )


def agreement_of(counts: Counts, confidence: float = 0.95) -> Classification | str:
    """Decisions on the compared samples: at or above the target by the reference method, suspect by the test."""
    counted = counts.by_level.get("")
    frame = counts.samples.compared.frame
    if counted is None or "reference" not in frame:
        return counts.reason or "no sample was measured by the reference method"
    known = frame["reference"].dropna()
    decided = [row for row in known.index if row in {*counted.suspect, *counted.cleared}]
    if not decided:
        return "no sample has a result of both"
    above = (known.loc[decided] >= counts.samples.target).to_numpy(float)
    suspect = np.array([float(row in counted.suspect) for row in decided])
    return classification(above, suspect, 0.5, level=confidence)


def _agreement(counts: Counts, name: str) -> Finding:
    samples = counts.samples
    target = f"{samples.settings.target} {samples.job.method.unit}"
    words = {"classified_alike": "all", "alike_above": f"at or above {target} by the reference method",
             "alike_below": f"below {target} by the reference method"}[name]  # fmt: skip
    common = {"name": name, "level": None, "unit": "%", "formula": f"100·alike/n; n: samples, {words}",
              "source": COUNTED, "rows": samples.compared.rows}  # fmt: skip
    found = agreement_of(counts)
    share = found if isinstance(found, str) else _part(found, name)
    if share is None:
        share = f"no sample is {words}"
    if isinstance(share, str):
        return Finding(value=None, reason=share, n=samples.compared.n, **common)

    def limits(level: float) -> tuple[float, float]:
        again = _part(agreement_of(counts, level), name)  # type: ignore[arg-type]
        return 100 * again.low, 100 * again.high  # type: ignore[union-attr]

    return Finding(
        value=100 * share.estimate,
        intervals=intervals_of(samples.job, limits, "Clopper-Pearson"),
        n=share.n,
        working=_of_counts(share.detected, share.n, "samples that both sort alike"),
        **common,
    )


_PARTS: dict[str, Callable[[Classification], Proportion | None]] = {
    "classified_alike": lambda found: found.overall,
    "alike_above": lambda found: found.of_above,
    "alike_below": lambda found: found.of_not_above,
}


def _part(found: Classification, name: str) -> Proportion | None:
    return _PARTS[name](found)


def negative_content(samples: Samples) -> Finding | None:
    """Largest content of a negative sample against the target: by the reference method, else as declared."""
    group, target = samples.negatives, samples.target
    if target is None or not (group.n or samples.settings.design.negatives):
        return None
    common = {"name": "negative_content", "level": None, "unit": "%", "formula": "100·largest content/target",
              "source": "(EU) 2023/2782, Annex II, 4.2.2: at most one fifth of the target"}  # fmt: skip
    measured = group.frame["reference"].dropna() if "reference" in group.frame else None
    declared = samples.settings.negatives_hold
    if measured is not None and len(measured):
        largest, n, words, rows = float(measured.max()), len(measured), "by the reference method", group.rows
    elif declared is not None:
        largest, n, words, rows = declared.at_most, group.n, f"as declared: {declared.by}", ()
    else:
        reason = "neither the table nor the protocol says what the negative samples contain"
        return Finding(value=None, reason=reason, n=group.n, **common)
    unit = samples.job.method.unit
    return Finding(
        value=100 * largest / target,
        n=n,
        working=Working(
            expression="100 · {x} / {target}",
            symbols=(symbol("x", "x_0", f"largest content, {words}", largest, unit),
                     symbol("target", "x_T", "target", target, unit)),
        ),
        rows=rows,
        **common,
    )  # fmt: skip
