"""What the reader must know of one level: numbers left out, few laboratories, negative estimates, coarse readings."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.collaborative_trial.context import RESOLUTION_SHARE, Context
from validate.studies.collaborative_trial.estimates import LevelEstimate
from validate.studies.collaborative_trial.kinds import MINIMUM_LABORATORIES
from validate.studies.collaborative_trial.settings import BINARY, SPLIT
from validate.studies.collaborative_trial.words import counted
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark


def remarks(context: Context, found: LevelEstimate | str | None) -> tuple[Remark, ...]:
    """`found` is a text when nothing could be estimated, None for counts."""
    told = [*_numbers(context)]
    if isinstance(found, str):
        told.append(("warning", f"nothing can be computed: {found}", ""))
    if isinstance(found, LevelEstimate):
        told += _estimates(context, found)
    return tuple(Remark(kind=kind, text=text, level=context.level, rows=rows) for kind, text, rows in told)  # type: ignore[arg-type]


def few_laboratories(contexts: tuple[Context, ...]) -> tuple[Remark, ...]:
    """Said once, however many levels it holds for."""
    few = [c for c in contexts if 2 <= len(c.data.labels) < MINIMUM_LABORATORIES]
    if not few:
        return ()
    counts = sorted({len(c.data.labels) for c in few})
    count = str(counts[0]) if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
    where = "" if len(few) == len(contexts) else f" at {', '.join(c.level for c in few)}"
    text = (
        f"{count} laboratories{where}; {MINIMUM_LABORATORIES} with valid results are asked for: the spread between "
        "laboratories is not well known"
    )
    return (Remark(kind="warning", text=text),)


def _numbers(context: Context) -> Iterator[tuple[str, str, str]]:
    data = context.data
    if len(data.censored):
        told = counted(len(data.censored), "result")
        text = f"left out, no verdict: {told} that cannot be used as a number (below a limit, not detected)"
        yield "warning", text, row_ranges(data.censored)
    if len(data.without_result):
        yield "note", f"without a result: {counted(len(data.without_result), 'row')}", row_ranges(data.without_result)
    if data.at_floor:
        yield "warning", f"at the floor of the reading, no verdict: {counted(data.at_floor, 'result')}", ""
    if data.sample is not None and data.values.size:
        both = data.pairs()[0] if len(set(data.sample.tolist())) == 2 else ()
        alone = [lab for lab in data.labels if lab not in both]
        if alone and both:
            yield "warning", f"left out, with one of the two samples only: {', '.join(alone)}", ""


def _estimates(context: Context, found: LevelEstimate) -> Iterator[tuple[str, str, str]]:
    if found.raw_between < 0:
        text = "laboratories differ no more than the scatter within them explains: s_L counts as 0, s_R equals s_r"
        if found.s_within is not None:
            text = "laboratories differ no more than the scatter within them explains: s_L counts as 0"
        yield "note", text, ""
    resolution = context.job.method.resolution
    if resolution and found.s_r.value < RESOLUTION_SHARE * resolution:
        step = f"{resolution:g} {context.unit}"
        text = f"s_r is below half a step of the reading ({step}): it shows the rounding, no verdict"
        yield "warning", text, ""
    if context.settings.design.kind not in (SPLIT, BINARY) and found.s_r.value == 0:
        yield "warning", "every laboratory repeated its result exactly: were replicates copied or rounded?", ""
