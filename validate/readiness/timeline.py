"""The time line: runs against the windows in which calibration, solutions and lots were valid."""

from __future__ import annotations

import numpy as np

from validate.readiness.clock import DAY, FAR, local_text, read_times
from validate.readiness.log import RunLog
from validate.readiness.rows import CANNOT_BE_TOLD, NOT_READY, READY, JudgedRuns
from validate.readiness.validity import Windows
from validate.readiness.verdicts import IN_PART, Counted
from validate.vocabulary.plot import Axis, Line, Plot, Points

MOST_POINTS = 2_000
_SMALLEST_GAP = 1 / 300
"""Of the whole span: windows nearer to each other are drawn as one, which no eye tells apart."""
_MARKS = {
    READY: ("dot", "ready"),
    NOT_READY: ("cross", "not ready"),
    IN_PART: ("triangle", "not ready in part"),
    CANNOT_BE_TOLD: ("ring", "cannot be told"),
}


def timeline(judged: JudgedRuns, counted: Counted) -> tuple[Plot, ...]:
    """One picture; none when no run says when it was."""
    log = judged.log
    at = np.where(log.first.low > -FAR, log.first.low, log.last.high)
    placed = np.abs(at) < FAR
    if not placed.any():
        return ()
    origin, day = _origin(log, int(at[placed].min()))
    end = int(max(at[placed].max(), log.last.high[log.last.high < FAR].max(initial=0)))
    x = (at - origin) / DAY
    rows = ["runs", *(rule.title for rule in log.rules)]
    heights = {i: len(rows) - i for i in range(len(rows))}
    layers = [
        Line(x=(a / DAY, b / DAY), y=(heights[i + 1], heights[i + 1]), accent=True)
        for i, window in enumerate(judged.windows)
        if window is not None and log.rules[i].kind != "delay"
        for a, b in _merged(window, origin, end)
    ]
    layers += _points(counted, x, placed, heights)
    exceptions = int((counted.runs != READY).sum())
    return (
        Plot(
            name="time-line",
            title="Time line of runs",
            sentence=(
                f"{exceptions} of {len(log.names)} runs were not plainly ready; a line is the time in which a "
                "calibration, solution or lot was valid, a mark is a run."
            ),
            description=(
                f"{len(log.names)} runs from {day}. One row for the runs and one for each rule of the protocol; "
                f"{exceptions} runs are marked as not ready or not told."
            ),
            x=Axis(label=f"days since {day} 00:00", low=-0.02 * (end - origin) / DAY - 0.1),
            y=Axis(label="rule", categories=tuple(reversed(rows))),
            layers=tuple(layers),
        ),
    )


def _origin(log: RunLog, first: int) -> tuple[int, str]:
    """Local midnight before the first run, and its date."""
    day = local_text(first, log.zone)[:10]
    return int(read_times([day], log.zone).low[0]), day


def _merged(window: Windows, origin: int, end: int) -> list[tuple[float, float]]:
    """The union of the windows of all runs, within the picture, in ms since its begin."""
    known = np.abs(window.until_low) < FAR // 2
    begin = np.clip(window.begin[known], origin, end) - origin
    until = np.clip(window.until_low[known], origin, end + (end - origin) // 20) - origin
    seen = until > begin
    begin, until = begin[seen], until[seen]
    if not len(begin):
        return []
    order = np.argsort(begin, kind="stable")
    begin, until = begin[order], np.maximum.accumulate(until[order])
    gap = (end - origin) * _SMALLEST_GAP
    opens = np.concatenate([[True], begin[1:] > until[:-1] + gap])
    closes = np.concatenate([opens[1:], [True]])
    return list(zip(begin[opens].astype(float).tolist(), until[closes].astype(float).tolist(), strict=True))


def _points(counted: Counted, x: np.ndarray, placed: np.ndarray, heights: dict[int, int]) -> list[Points]:
    """The runs, and in the row of each rule the runs in which it does not plainly hold."""
    states = np.vstack([counted.runs, counted.rules])
    layers = []
    for state, (mark, label) in _MARKS.items():
        row, run = np.nonzero((states == state) & placed)
        if state == READY:
            row, run = row[row == 0], run[row == 0]
            _, first_of_day = np.unique(np.floor(x[run]), return_index=True)
            if len(run) > MOST_POINTS // 2:
                row, run = row[first_of_day], run[first_of_day]
        keep = slice(None, MOST_POINTS)
        if len(run):
            ys = tuple(float(heights[r]) for r in row[keep].tolist())
            layers.append(Points(x=tuple(x[run][keep].tolist()), y=ys, mark=mark, label=label))
    return layers
