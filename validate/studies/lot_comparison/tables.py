"""Tables of a comparison: what each level says, error rates, rows beside the samples, earlier lots."""

from __future__ import annotations

import math

from validate.stats.intervals import t_limits
from validate.studies.lot_comparison.columns import BLANK, CONTROL, STANDARD
from validate.studies.lot_comparison.comparing import Outcome
from validate.studies.lot_comparison.context import Context
from validate.studies.lot_comparison.deciding import Rates
from validate.studies.lot_comparison.drift import Lots
from validate.studies.lot_comparison.pairing import CURRENT, NEW, results_of, side_of
from validate.vocabulary.evaluation import ResultTable, TableColumn


def _text(title: str) -> TableColumn:
    return TableColumn(title=title, kind="text")


def by_level(context: Context, found: tuple[Outcome, ...], overall: Outcome) -> ResultTable:
    """The 90 % interval of each level, which is what decides on equivalence, beside the margin."""
    settings = context.settings
    unit = "%" if settings.is_ratio else context.unit
    lines = [*found, overall] if len(found) > 1 else list(found)
    low, high = (settings.shown(end) for end in settings.margin_ends)
    rows = []
    for number, each in enumerate(lines):
        tost, is_all = each.tost, number == len(found) or each.part.level is None
        figures = (None,) * 4
        if tost is not None:
            figures = (settings.shown(tost.estimate), settings.shown(tost.low), settings.shown(tost.high), tost.p_value)
        estimate, low_90, high_90, p_value = figures
        rows.append(
            (
                "all" if is_all else each.part.level,
                float(each.part.n),
                estimate,
                low_90,
                high_90,
                *(() if settings.is_shift else (low, high, p_value)),
            )
        )
    columns = [
        _text("level"),
        TableColumn(title="pairs" if settings.paired else "results"),
        TableColumn(title="new in % of current" if settings.is_ratio else "new − current", unit=unit),
        TableColumn(title="low, 90 %", unit=unit),
        TableColumn(title="high, 90 %", unit=unit),
    ]
    if not settings.is_shift:
        columns += [TableColumn(title="margin low", unit=unit), TableColumn(title="margin high", unit=unit)]
        columns += [TableColumn(title="p, two one-sided tests")]
    note = (
        "For information: the shift over all pairs decides."
        if settings.is_shift
        else "Equality within the margin is shown where the 90 % interval lies inside it; that is p at most 0.05."
    )
    title = f"{settings.new} against {settings.current}"
    return ResultTable(name="by_level", title=title, columns=tuple(columns), rows=tuple(rows), note=note)


def error_rates(context: Context, lines: tuple[Rates, ...]) -> ResultTable | None:
    """Both error rates of the rule that decides."""
    if not lines:
        return None
    shift = context.settings.is_shift
    third = () if shift else (TableColumn(title="accepts when off by a third of the margin", unit="%"),)
    rows = tuple(
        (
            line.rule,
            line.level or "all",
            float(line.n),
            100 * line.accepts_unchanged,
            *(() if shift else (100 * line.accepts_at_third,)),
            100 * line.accepts_at_bound,
        )
        for line in lines
    )
    bound = "off by the critical shift" if shift else "at the margin"
    return ResultTable(
        name="rates",
        title="What the rule does in this design",
        columns=(
            _text("accepts when"),
            _text("level"),
            TableColumn(title="pairs" if context.settings.paired else "results"),
            TableColumn(title="accepts when unchanged", unit="%"),
            *third,
            TableColumn(title=f"accepts when {bound}", unit="%"),
        ),
        rows=rows,
        note=(
            "With the spread that the protocol states."
            if shift
            else "With the scatter that was observed. A low chance in the fourth column means too few samples, "
            "not different lots."
        ),
    )


def beside_samples(context: Context) -> ResultTable | None:
    """Controls, blanks and standards with both, for comparison."""
    rows = []
    for what in (CONTROL, BLANK, STANDARD):
        frame = results_of(context.job.table, what)
        for sample in dict.fromkeys(frame["sample"]):
            for side, label in ((NEW, context.settings.new), (CURRENT, context.settings.current)):
                results = side_of(frame[frame["sample"] == sample], context.settings, side)["result"]
                numbers = results.dropna().tolist()
                if not len(results):
                    continue
                mean = math.fsum(numbers) / len(numbers) if numbers else None
                low, high = (min(numbers), max(numbers)) if numbers else (None, None)
                rows.append((what, sample, label, float(len(results)), float(len(numbers)), mean, low, high))
    if not rows:
        return None
    return ResultTable(
        name="beside",
        title="Controls, blanks and standards",
        columns=(
            _text("what"),
            _text("code"),
            _text(context.settings.factor),
            TableColumn(title="results"),
            TableColumn(title="of them numbers"),
            TableColumn(title="mean", unit=context.unit),
            TableColumn(title="lowest", unit=context.unit),
            TableColumn(title="highest", unit=context.unit),
        ),
        rows=tuple(rows),
    )


def lot_table(lots: Lots) -> ResultTable:
    """Every lot: its own comparison, and its place against the validation lot."""
    rows: list[tuple[str | float | None, ...]] = [(lots.labels[0], "validation lot", None, 100.0, None, None, None, "")]
    for number, step in enumerate(lots.steps, start=1):
        position, se = float(lots.positions[number]), math.sqrt(lots.covariance[number, number])
        limits = t_limits(position, se, lots.df_of(number), 0.95)
        cumulated = (100 * math.exp(value) for value in (position, limits.low, limits.high))
        rows.append((step.new, step.current, step.percent, *cumulated, float(step.n), step.verdict or "–"))
    return ResultTable(
        name="lots",
        title="Lots in the order of their use",
        columns=(
            _text("lot"),
            _text("compared with"),
            TableColumn(title="ratio to it", unit="%"),
            TableColumn(title="ratio to the validation lot", unit="%"),
            TableColumn(title="low, 95 %", unit="%"),
            TableColumn(title="high, 95 %", unit="%"),
            TableColumn(title="pairs or results"),
            _text("verdict then"),
        ),
        rows=tuple(rows),
        note="Ratios to the validation lot are products of the single ratios; their errors add up.",
    )
