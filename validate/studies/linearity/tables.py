"""Tables: levels, content read from the line, lines of single days."""

from __future__ import annotations

import numpy as np

from validate.stats.regression import InversePrediction, inverse_predict, line
from validate.studies.linearity.calibration import Calibration, is_recorded
from validate.studies.linearity.deviations import Bend, Deviation
from validate.vocabulary.evaluation import ResultTable, TableColumn

MOST_DAYS = 60
LEVEL_NOTE = (
    "The deviation is that of the mean of the level; its limits (90 %, that is 95 % at each end) decide where a "
    "criterion is judged by the interval. A percentage of level 0 does not exist."
)
READ_NOTE = (
    "One reading each; limits after Fieller. A content outside the calibrated levels is marked: "
    "nothing was measured there."
)
DAY_NOTE = (
    "A line through the readings of each day alone; how far the lines differ belongs to the precision of results."
)


def level_table(calibration: Calibration, deviations: tuple[Deviation, ...], bend: Bend | str) -> ResultTable:
    """What the line gives back at every measured level."""
    unit, reading = calibration.job.method.unit, calibration.unit
    by_level = {each.level: each for each in deviations}
    curve = dict(bend.found.at_levels) if isinstance(bend, Bend) else {}
    rows = []
    for points in calibration.measured:
        found = by_level.get(points.level)
        limits = None if found is None else found.limits(0.90)
        rows.append((
            points.level,
            float(points.n),
            found.mean_reading if found else float(np.mean(points.y)),
            points.sd,
            found.found if found else None,
            found.percent if found else None,
            limits.low if limits else None,
            limits.high if limits else None,
            curve.get(points.x),
        ))  # fmt: skip
    columns = (
        TableColumn(title="level", unit=unit, kind="text"),
        TableColumn(title="n"),
        TableColumn(title="mean reading", unit=reading),
        TableColumn(title="SD", unit=reading),
        TableColumn(title="shown" if calibration.shows_content else "from the line", unit=unit),
        TableColumn(title="deviation", unit="%"),
        TableColumn(title="lower", unit="%"),
        TableColumn(title="upper", unit="%"),
        TableColumn(title="curve − line", unit="%"),
    )
    return ResultTable(name="levels", title="Levels against the line", columns=columns, rows=tuple(rows),
                       note=LEVEL_NOTE)  # fmt: skip


def curve_table(calibration: Calibration, bend: Bend) -> ResultTable:
    """Coefficients of line and quadratic, side by side."""
    found = bend.found
    columns = (
        TableColumn(title="fit", kind="text"),
        TableColumn(title="constant", unit=calibration.unit),
        TableColumn(title="coefficient of x"),
        TableColumn(title="coefficient of x²"),
        TableColumn(title="its standard error"),
    )
    rows = (
        ("line with intercept", bend.intercept, bend.slope, None, None),
        ("quadratic", bend.c0, bend.c1, found.curvature, found.se_curvature),
    )
    note = "The quadratic shows how much the line may bend; results are read from the line."
    return ResultTable(name="curve", title="Line and quadratic", columns=columns, rows=rows, note=note)


def read_table(calibration: Calibration) -> ResultTable | None:
    """Contents of the signals that the protocol names under `read_back`."""
    if calibration.fit is None or not calibration.settings.read_back or calibration.shows_content:
        return None
    unit = calibration.job.method.unit
    columns = (
        TableColumn(title="signal", unit=calibration.unit),
        TableColumn(title="content", unit=unit),
        TableColumn(title="standard error", unit=unit),
        TableColumn(title="lower, 95 %", unit=unit),
        TableColumn(title="upper, 95 %", unit=unit),
        TableColumn(title="remark", kind="text"),
    )
    rows = []
    for signal in calibration.settings.read_back:
        found = read_signal(calibration, signal)
        rows.append((signal, found.x, found.s_x, found.low, found.high, _remark(found)))
    return ResultTable(name="read", title="Content read from the line", columns=columns, rows=tuple(rows),
                       note=READ_NOTE)  # fmt: skip


def read_signal(calibration: Calibration, signal: float) -> InversePrediction:
    """Content of one signal; the weight is that of the content it stands for."""
    fit = calibration.fit
    x = (signal - fit.intercept) / fit.slope
    floor = min(level.x for level in calibration.above_zero)
    weights = calibration.weights_at(np.array([max(x, 0.0 if calibration.settings.weights == "none" else floor)]))
    return inverse_predict(fit, signal, weight_at_y0=None if weights is None else float(weights[0]))


def _remark(found: InversePrediction) -> str:
    told = [found.reason or "", "extrapolated" if found.extrapolated else "",
            "standard error approximate" if found.approximate else ""]  # fmt: skip
    return "; ".join(text for text in told if text)


def day_table(calibration: Calibration) -> ResultTable | None:
    """Slope and intercept of each day, where several days were recorded."""
    frame = calibration.job.table.frame.loc[calibration.index]
    if calibration.fit is None or not is_recorded(frame, "day") or not 2 <= frame["day"].nunique() <= MOST_DAYS:
        return None
    x, y, weights = calibration.x, calibration.y, calibration.weights
    days = frame["day"].to_numpy()
    rows = []
    for day in dict.fromkeys(days):
        chosen = days == day
        try:
            fit = line(x[chosen], y[chosen], None if weights is None else weights[chosen],
                       calibration.settings.through_origin)  # fmt: skip
        except ValueError:
            continue
        rows.append((str(day), float(fit.n), fit.slope, fit.se_slope, fit.intercept, fit.se_intercept))
    columns = (
        TableColumn(title="day", kind="text"),
        TableColumn(title="n"),
        TableColumn(title="slope"),
        TableColumn(title="s_b"),
        TableColumn(title="intercept", unit=calibration.unit),
        TableColumn(title="s_a", unit=calibration.unit),
    )
    return ResultTable(name="days", title="Lines of single days", columns=columns, rows=tuple(rows),
                       note=DAY_NOTE) if len(rows) > 1 else None  # fmt: skip
