"""Sentences that a reader must not miss."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.detection.approaches import Bench, usable
from validate.studies.detection.samples import Group
from validate.studies.detection.settings import FEWEST_BLANKS, FEWEST_DAYS, STANDARDS
from validate.studies.detection.tables import levels_near
from validate.studies.detection.trials import TrialResults
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark
from validate.vocabulary.finding import Finding

ONLY_STANDARDS = "Blanks and low levels are standards, not samples: extraction and matrix are not in these limits."
SAME_BLANKS = (
    "Blanks are counted against a critical value that was found from themselves: expect 5 % of later blanks above it, "
    "whatever was counted here. A decision limit declared beforehand would be tested by them."
)
DAYS_DIFFER = 3.0
"""Ratio of mean squares between and within days above which the days are told. Common practice, no source."""


def remarks_of(bench: Bench, counted: TrialResults, lod: Finding) -> tuple[Remark, ...]:
    """Remarks on the limits, then on the samples."""
    on_groups = (remark for group in bench.samples.groups for remark in _on_group(group))
    return (*_on_limits(bench, counted, lod), *_on_blanks(bench, counted), *on_groups)


def _on_limits(bench: Bench, counted: TrialResults, lod: Finding) -> Iterator[Remark]:
    if bench.settings.rows == STANDARDS:
        yield Remark(kind="warning", text=ONLY_STANDARDS)
    if lod.value is not None and not levels_near(lod.value, counted):
        limit = f"{lod.value:.3g} {bench.unit}"
        yield Remark(kind="warning", text=f"No sample was measured near the limit of {limit}: not confirmed.")
    if counted.reason is not None and bench.samples.spikes:
        yield Remark(kind="warning", text=f"Samples could not be counted as detected or not: {counted.reason}.")
    elif counted.no_curve and len(counted.levels) > 1:
        yield Remark(kind="note", text=f"No curve of detection over the levels: {counted.no_curve}.")


def _on_blanks(bench: Bench, counted: TrialResults) -> Iterator[Remark]:
    blanks = bench.samples.blanks
    if not blanks.tried:
        yield Remark(
            kind="warning", text="No blanks: neither a critical value from blanks nor false positives are known."
        )
        return
    reason = usable(bench, blanks, "blanks", fewest=FEWEST_BLANKS)
    if reason is not None:
        yield Remark(kind="warning", text=f"The blanks give no limit: {reason}.", rows=blanks.rows[0].ranges)
    elif counted.decision.at is not None and bench.settings.decision_limit is None:
        yield Remark(kind="note", text=SAME_BLANKS)
    yield from _on_days(bench, blanks)


def _on_days(bench: Bench, blanks: Group) -> Iterator[Remark]:
    """Blanks of one day are not independent: a limit from all of them is too low where days differ."""
    if blanks.days is None or blanks.days < FEWEST_DAYS or blanks.n <= blanks.days:
        return
    from validate.stats.precision import one_way

    days = bench.samples.table.frame.loc[blanks.index, "day"]
    found = one_way(blanks.values, list(days))
    if found.ms_within > 0 and found.ms_between > DAYS_DIFFER * found.ms_within:
        yield Remark(
            kind="note",
            text=f"Blanks differ more between days than within them (mean squares {found.ms_between:.3g} and "
            f"{found.ms_within:.3g}): results of one day are not independent, and the limits may be too low.",
        )


def _on_group(group: Group) -> Iterator[Remark]:
    level = None if group.level == "0" else group.level
    if group.missing:
        text = "No result was obtained; a reason is needed."
        yield Remark(kind="flag", level=level, rows=row_ranges(group.missing), text=text)
    if group.censored:
        what = "Blanks" if group.level == "0" else "Samples"
        text = f"{what} without a number count as not detected, never as zero."
        yield Remark(kind="note", level=level, rows=row_ranges(group.censored), text=text)
