"""What a reader must not miss: remarks, the design as carried out, what varied, limits of use."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from validate.stats.detection import proportion
from validate.studies.contract import StudyInput
from validate.studies.screening.counting import Counts
from validate.studies.screening.curves import MODELS
from validate.studies.screening.cutting import Cut, is_reversed, stated, stated_words
from validate.studies.screening.samples import Group, is_recorded
from validate.studies.screening.settings import DECISION, FACTORS, FEWEST_DAYS, ScreeningSettings
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import DesignFact, Remark, StudyResult, Varied

if TYPE_CHECKING:
    import pandas as pd

MOST_NAMED = 8
DAYS_DIFFER = 3.0
"""Ratio of mean squares between and within days above which the days are told. Common practice, no source."""
Told = tuple[str, str, str]


def remarks_of(counts: Counts, cut: Cut | None) -> tuple[Remark, ...]:
    """Remarks on the cut-off, then on samples sorted wrongly, then on what is missing."""
    told = (*_on_cut(counts, cut), *_on_errors(counts), *_on_samples(counts))
    return tuple(Remark(kind=kind, text=text, rows=rows) for kind, text, rows in told)  # type: ignore[arg-type]


def _on_cut(counts: Counts, cut: Cut | None) -> Iterator[Told]:
    samples = counts.samples
    if cut is None:
        return
    if counts.reason:
        yield "warning", f"Samples could not be sorted: {counts.reason}.", ""
    if is_reversed(samples, cut.sign):
        other = "inverse" if cut.sign > 0 else "proportional"
        yield "warning", (
            "The negative samples read beyond those at the target: the response looks "
            f"{other}, not as the protocol says. Nothing here gets a verdict from the cut-off."
        ), ""  # fmt: skip
    if cut.found is not None and samples.settings.cut_off is None:
        yield "note", (
            "The same samples gave the cut-off and are counted against it: their share is no test of it. "
            "Later samples at the target are missed a little more often than in 5 % of cases, because the rule leaves "
            "out √(1 + 1/n)."
        ), ""  # fmt: skip
        yield from _on_statement(counts, cut)
    if cut.found is not None and samples.settings.cut_off is not None:
        declared, found = samples.settings.cut_off.value, cut.found
        if not found.low <= declared <= found.high:
            yield "warning", (
                f"The cut-off in use ({declared:g} {samples.unit}) lies outside the limits of the one found here "
                f"({found.low:.4g} to {found.high:.4g}): determine it again."
            ), ""  # fmt: skip
    for group, whose in ((samples.positives, "Samples at the target"), (samples.negatives, "Negative samples")):
        if group is not None:
            yield from _on_days(group, whose, samples.settings.role)


def _on_statement(counts: Counts, cut: Cut) -> Iterator[Told]:
    """The cut-off as it will be used is the rounded one: does it sort any sample otherwise?"""
    text = stated(cut)
    at = float(text)
    low, high = sorted((at, cut.found.value))  # type: ignore[union-attr]
    between = [
        int(row)
        for group in counts.samples.groups
        for row, value in zip(group.frame.index, group.frame[counts.samples.settings.role], strict=True)
        if low <= value <= high
    ]
    if between:
        yield "flag", (
            f"The cut-off as stated, {text} {counts.samples.unit}, sorts these samples otherwise than the unrounded "
            f"one, {cut.found.value:.4g}; the figures here are those of the unrounded one."  # type: ignore[union-attr]
        ), row_ranges(between)  # fmt: skip


def _on_errors(counts: Counts) -> Iterator[Told]:
    samples = counts.samples
    negatives, target = counts.negatives, samples.settings.target_level
    if negatives is not None and negatives.suspect:
        k, n = len(negatives.suspect), negatives.n
        words = f"{k} of {n} negative samples {_are(k)} suspect; each costs a confirmatory analysis."
        yield "flag", words, row_ranges(negatives.suspect)
    positives = counts.by_level.get(target or "") if target else None
    if positives is not None and positives.cleared:
        k, n = len(positives.cleared), positives.n
        yield "flag", (
            f"{k} of {n} samples at the target {_are(k)} missed. In a first validation one in twenty is to be "
            "expected; for a further commodity all must be beyond the cut-off."
        ), row_ranges(positives.cleared)  # fmt: skip
    if counts.no_curve and samples.settings.curve is not None:
        yield "warning", f"No curve of detection: {counts.no_curve}.", ""


def _on_samples(counts: Counts) -> Iterator[Told]:
    samples = counts.samples
    for group in (*samples.groups, samples.compared):
        counted = counts.by_level.get(group.level)
        if group.missing:
            yield "flag", "No result was obtained; a reason is needed.", row_ranges(group.missing)
        if counted is not None and counted.undecided:
            text = "A censored reading that tells neither suspect nor not is left out of the counts."
            yield "flag", text, row_ranges(counted.undecided)
        elif group.censored:
            text = "Readings without a number are sorted by their mark, never taken as zero."
            yield "note", text, row_ranges(group.censored)
    if samples.negatives.n and samples.settings.reads != DECISION and len(samples.negatives.readings) > 1:
        lowest = samples.negatives.readings.min()
        equal = int((samples.negatives.readings == lowest).sum())
        if equal > samples.negatives.n / 2:
            yield "warning", (
                f"{equal} of {samples.negatives.n} negative samples read {lowest:g} {samples.unit}: their scatter is "
                "not known, and the false-suspect rate by the formula is a guess. Go by the count."
            ), ""  # fmt: skip


def _on_days(group: Group, whose: str, role: str) -> Iterator[Told]:
    """Readings of one day are not independent where days differ."""
    if group.days is None or group.days < 2 or len(group.readings) <= group.days or group.censored:
        return
    from validate.stats.precision import one_way

    found = one_way(group.readings, list(group.frame["day"]))
    if found.ms_within > 0 and found.ms_between > DAYS_DIFFER * found.ms_within:
        yield "note", (
            f"{whose} differ more between days than within them (mean squares {found.ms_between:.3g} and "
            f"{found.ms_within:.3g}): results of one day are not independent, and the limits are narrower than they "
            "should be."
        ), ""  # fmt: skip


def _are(k: int) -> str:
    return "was" if k == 1 else "were"


def design_facts(counts: Counts) -> tuple[DesignFact, ...]:
    """Negatives, positives, levels, days, compared samples: planned against carried out."""
    samples, design = counts.samples, counts.samples.settings.design
    facts = []
    if design.negatives or samples.negatives.n:
        facts.append(_fact("negative samples", design.negatives, samples.negatives.n))
    if samples.positives is not None and (design.positives or samples.positives.n):
        target = f"{samples.settings.target} {samples.job.method.unit}"
        facts.append(_fact(f"samples at the target, {target}", design.positives, samples.positives.n))
    more = "" if samples.positives is None else "further "
    if samples.further:
        carried = min(group.n for group in samples.further)
        facts.append(
            DesignFact(name=f"{more}levels ({samples.job.method.unit})", planned=", ".join(design.levels),
                       carried_out=", ".join(group.level for group in samples.further if group.n) or "none",
                       short=carried == 0)
        )  # fmt: skip
        facts.append(_fact(f"samples at each {more}level, at least", design.replicates, carried))
    if design.compared or samples.compared.n:
        facts.append(_fact("samples compared with the reference method", design.compared, samples.compared.n))
    if design.days is not None:
        known = [group.days for group in samples.groups if group.n]
        fewest = None if not known or None in known else min(known)  # type: ignore[type-var]
        carried_out = "not recorded" if fewest is None else str(fewest)
        short = fewest is None or fewest < design.days
        facts.append(DesignFact(name="days", planned=str(design.days), carried_out=carried_out, short=short))
    return tuple(facts)


def _fact(name: str, planned: int, found: int) -> DesignFact:
    return DesignFact(name=name, planned=str(planned), carried_out=str(found), short=found < planned)


def varied_factors(job: StudyInput) -> tuple[Varied, ...]:
    """Days, analysts, lots, instruments and materials: varied, constant or not recorded."""
    return tuple(_varied(job.table.frame, name, role) for name, role in FACTORS)  # type: ignore[union-attr]


def _varied(frame: pd.DataFrame, name: str, role: str) -> Varied:
    if not is_recorded(frame, role):
        return Varied(factor=name, state="not recorded")
    labels = list(frame[role].unique())
    named = ", ".join(map(str, labels[:MOST_NAMED])) + (" …" if len(labels) > MOST_NAMED else "")
    return Varied(factor=name, state="varied" if len(labels) > 1 else "constant", count=len(labels), detail=named)


def facts_of(counts: Counts, cut: Cut | None) -> dict[str, str]:
    """Short texts for the section."""
    settings = counts.samples.settings
    unit = counts.samples.job.method.unit
    facts = {"decision": counts.words}
    if settings.target is not None:
        facts["target"] = f"Target: {settings.target} {unit}."
    if cut is not None and cut.found is not None:
        facts["cut_off"] = f"Cut-off {stated_words(cut)}."
    if settings.curve is not None:
        facts["curve"] = f"Curve: {MODELS[settings.curve.model]}, x the level."
    control = settings.quality_control
    if control is not None:
        facts["quality_control"] = (
            f"In daily use: {control.positives_per_batch} samples at the target in each batch; the cut-off is "
            f"determined again after {control.redetermined_after_months} months."
        )
    return facts


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this study cannot tell."""
    return tuple(_limits(job, result))


def _limits(job: StudyInput, result: StudyResult) -> Iterator[str]:
    settings: ScreeningSettings = job.settings  # type: ignore[assignment]
    frame = job.table.frame  # type: ignore[union-attr]
    yield "A suspect sample is not yet a sample above the limit: a confirmatory method decides."
    missed = result.finding("false_negative_rate")
    if missed is not None and missed.value is not None:
        n = missed.n or 0
        most = proportion(round(missed.value * n / 100), n, level=0.90).high
        yield f"By counting alone, {n} samples show (95 %) that at most {100 * most:.0f} % at the target are missed."
    origins = frame["origin"].nunique() if "origin" in frame else 0
    if origins < 2:
        yield "The figures hold for the material that was measured: a further commodity of its group is to be shown."
    for role, words in (("lot", "lot of kit, strip or reagent"), ("instrument", "instrument"), ("analyst", "analyst")):
        if is_recorded(frame, role) and frame[role].nunique() == 1:
            yield f"One {words} only: how the cut-off moves with others is not known."
    days = frame["day"].nunique() if is_recorded(frame, "day") else 0
    if days < FEWEST_DAYS and settings.target is not None:
        yield f"Fewer than {FEWEST_DAYS} days (or none recorded): samples of a month scatter more than these."
    limit, target = job.method.limit, settings.target_level
    if limit is not None and target is not None and float(target) > limit:
        yield f"The target lies above the limit of {limit:g} {job.method.unit}: samples in between may pass unseen."
    if settings.target is not None and settings.quality_control is None:
        yield "The protocol names no quality control samples for daily use and no date for a new cut-off."
