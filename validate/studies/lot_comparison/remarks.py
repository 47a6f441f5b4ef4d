"""What the reader must know: results left out, pairs that stand out, shifts that could hide, drift."""

from __future__ import annotations

from collections.abc import Iterator

from validate.stats.outliers import grubbs
from validate.studies.lot_comparison.columns import CONTROL
from validate.studies.lot_comparison.comparing import Outcome
from validate.studies.lot_comparison.context import Context
from validate.studies.lot_comparison.deciding import POWER, percent, shift_rates, shift_words
from validate.studies.lot_comparison.drift import Lots
from validate.studies.lot_comparison.pairing import NEW, Compared, results_of, side_of
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark
from validate.vocabulary.finding import Finding

FEWEST_FOR_GRUBBS = 3


def remarks(
    context: Context, found: tuple[Outcome, ...], lots: Lots | None, last: Finding | None
) -> tuple[Remark, ...]:
    """Warnings first; `last` is the finding on the new lot against the validation lot."""
    told = [remark for each in found for remark in _of_level(context, each)]
    told += _of_shift(context)
    told += _of_controls(context)
    if lots is not None and last is not None:
        told += _of_drift(context, lots, last)
    return tuple(told)


def _of_level(context: Context, found: Outcome) -> Iterator[Remark]:
    part = found.part
    if part.censored:
        text = "results are no numbers that can be compared (below a limit, or 0 in a ratio): left out, no verdict"
        yield Remark(kind="warning", text=f"{len(part.censored)} {text}", level=part.level, rows=_rows(part.censored))
    if part.lone:
        text = f"results have no partner with the other {context.settings.factor}: left out"
        yield Remark(kind="warning", text=f"{len(part.lone)} {text}", level=part.level, rows=_rows(part.lone))
    if found.tost is None and not context.settings.is_shift:
        yield Remark(kind="warning", text=found.why, level=part.level)
    if part.paired and part.n >= FEWEST_FOR_GRUBBS and found.tost is not None:
        yield from _outlier(part)


def _outlier(part: Compared) -> Iterator[Remark]:
    try:
        test = grubbs(part.differences)
    except ValueError:
        return
    if test.statistic > test.critical_1:
        text = (
            f"sample {part.samples[test.index]} stands out among the pairs (Grubbs, G = {test.statistic:.3g}, above "
            f"the 1 % value {test.critical_1:.3g}). A reason is needed; it stays in the figures."
        )
        yield Remark(kind="flag", text=text, level=part.level, rows=str(part.row_of[test.index]))


def _of_shift(context: Context) -> Iterator[Remark]:
    settings, n = context.settings, context.all.n
    if not settings.is_shift or n == 0:
        return
    hidden = shift_rates(settings, n).accepts_at_bound
    if hidden > 1 - POWER:
        shift = shift_words(settings, context.unit)
        text = f"with {n} pairs a shift of {shift} stays hidden in {percent(hidden)} of cases"
        yield Remark(kind="warning", text=text)


def _of_controls(context: Context) -> Iterator[Remark]:
    """Single control results outside the bound on their mean."""
    bound = context.settings.accept.get("control_mean")
    if bound is None:
        return
    low, high = bound.between or (bound.at_least, bound.at_most)
    results = side_of(results_of(context.job.table, CONTROL), context.settings, NEW)["result"].dropna()
    outside = [
        int(row) for row, x in results.items() if (low is not None and x < low) or (high is not None and x > high)
    ]
    if outside:
        text = f"{len(outside)} of {len(results)} single control results lie outside the bound on their mean"
        yield Remark(kind="flag", text=text, rows=_rows(tuple(outside)))


def _of_drift(context: Context, lots: Lots, last: Finding) -> Iterator[Remark]:
    margin = context.settings.margin
    if margin is None or last.value is None:
        return
    low, high = (100 * end for end in margin.ends)
    own = lots.steps[-1].percent
    if low <= own <= high and not low <= last.value <= high:
        text = (
            f"drift: lot {context.settings.new} lies at {own:.4g} % of lot {context.settings.current}, inside the "
            f"margin, but at {last.value:.4g} % of the validation lot {lots.labels[0]}, outside it. No comparison of "
            "two neighbours shows that."
        )
        yield Remark(kind="warning", text=text)


def _rows(rows: tuple[int, ...]) -> str:
    return row_ranges(rows)
