"""Results that stand out: flagged, never removed; the figures stand with and without them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validate.stats.outliers import cochran, grubbs
from validate.studies.contract import StudyInput
from validate.studies.recovery.grouping import Grouping
from validate.studies.recovery.samples import Level
from validate.studies.recovery.spread import intermediate, repeatability
from validate.studies.recovery.trueness import mean_recovery
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark, ResultTable, TableColumn

FLAGGED = "Flagged; a reason is needed; both results below."
TABLE_NOTE = (
    "A flag is a question, no verdict: only a reason that is written in the protocol excludes a result. "
    "Cochran's test is left out where s_r is below the step of the reading."
)
FEWEST_MEANS = 5
"""With three or four values equal readings alone reach the critical value of Grubbs."""
FEWEST_VARIANCES = 3


@dataclass(frozen=True)
class OutlierTest:
    """One test at one level; `positions` are the results that it points at."""

    level: str
    name: str
    on: str
    statistic: float
    critical_5: float
    critical_1: float
    positions: tuple[int, ...]

    @property
    def is_flagged(self) -> bool:
        return self.statistic > self.critical_1

    @property
    def outcome(self) -> str:
        if self.is_flagged:
            return "flagged (1 %)"
        return "straggler (5 %)" if self.statistic > self.critical_5 else "none"


def tests_at(job: StudyInput, level: Level) -> tuple[OutlierTest, ...]:
    """Grubbs on single results and on means of days, Cochran on variances within runs, where they apply.

    Grubbs on single results takes them as independent: with a spread between days it is
    only a pointer, which is why it flags and never decides. Cochran is not made where s_r
    is below the step of the reading: the steps then make the variances (0 or not 0).
    """
    made = [_grubbs(level, level.found, "single results", None)]
    if level.mean_groups is not None:
        means = np.bincount(level.days.codes, level.found) / np.bincount(level.days.codes)
        made.append(_grubbs(level, means, f"means of {level.days.many}", level.days))
    s_r, step = repeatability(job, level).value, job.method.resolution
    if step is None or (s_r is not None and s_r >= step):
        made.append(_cochran(level))
    return tuple(test for test in made if test is not None)


def outlier_table(tests: tuple[OutlierTest, ...], levels: dict[str, Level]) -> ResultTable:
    """Every test that was made."""
    columns = (
        TableColumn(title="level", kind="text"),
        TableColumn(title="test", kind="text"),
        TableColumn(title="statistic"),
        TableColumn(title="critical, 5 %"),
        TableColumn(title="critical, 1 %"),
        TableColumn(title="outcome", kind="text"),
        TableColumn(title="rows", kind="text"),
    )
    rows = tuple(
        (t.level, f"{t.name}, {t.on}", t.statistic, t.critical_5, t.critical_1, t.outcome, _rows(t, levels[t.level]))
        for t in tests
    )
    return ResultTable(name="outliers", title="Results that stand out", columns=columns, rows=rows, note=TABLE_NOTE)


def with_and_without(job: StudyInput, tests: tuple[OutlierTest, ...], levels: dict[str, Level]) -> ResultTable | None:
    """Figures of each level that has a flag, with all its results and without the flagged ones."""
    lines = []
    for name, level in levels.items():
        flagged = _flagged([t for t in tests if t.level == name and t.is_flagged])
        if flagged:
            rows = f"row{'s' if len(flagged) > 1 else ''} {row_ranges(level.index[flagged])}"
            lines.append((name, "with all results", *_figures(job, level)))
            lines.append((name, f"without {rows}", *_figures(job, level.without(np.array(flagged)))))
    if not lines:
        return None
    columns = (
        TableColumn(title="level", kind="text"),
        TableColumn(title="results", kind="text"),
        TableColumn(title="n"),
        TableColumn(title="mean recovery", unit="%"),
        TableColumn(title="RSD_r", unit="%"),
        TableColumn(title="RSD_I", unit="%"),
    )
    title = "Figures with and without flagged results"
    return ResultTable(name="flagged", title=title, columns=columns, rows=tuple(lines), note=FLAGGED)


def flag_remarks(tests: tuple[OutlierTest, ...], levels: dict[str, Level]) -> tuple[Remark, ...]:
    return tuple(
        Remark(kind="flag", text=f"{t.name} on {t.on}: {t.statistic:.3f} above {t.critical_1:.3f}. {FLAGGED}",
               level=t.level, rows=_rows(t, levels[t.level]))
        for t in tests
        if t.is_flagged
    )  # fmt: skip


def _grubbs(level: Level, values: np.ndarray, on: str, groups: Grouping | None) -> OutlierTest | None:
    if len(values) < FEWEST_MEANS or np.ptp(values) == 0:
        return None
    found = grubbs(values, sides=2)
    positions = (found.index,) if groups is None else np.flatnonzero(groups.codes == found.index)
    return _test(level, "Grubbs", on, found, positions)


def _cochran(level: Level) -> OutlierTest | None:
    runs = level.runs
    if runs is None or runs.count < FEWEST_VARIANCES:
        return None
    sizes = np.bincount(runs.codes)
    usual = int(np.bincount(sizes).argmax())
    tested = np.flatnonzero(sizes == usual)
    if usual < 2 or len(tested) < FEWEST_VARIANCES:
        return None
    deviations = level.found - (np.bincount(runs.codes, level.found) / sizes)[runs.codes]
    variances = np.bincount(runs.codes, deviations**2)[tested] / (usual - 1)
    if not variances.any():
        return None
    found = cochran(variances, usual)
    positions = np.flatnonzero(runs.codes == tested[found.index])
    return _test(level, "Cochran", f"variances within {runs.many} of {usual} results", found, positions)


def _test(level: Level, name: str, on: str, found: object, positions: object) -> OutlierTest:
    return OutlierTest(
        level=level.level,
        name=name,
        on=on,
        statistic=float(found.statistic),  # type: ignore[attr-defined]
        critical_5=float(found.critical_5),  # type: ignore[attr-defined]
        critical_1=float(found.critical_1),  # type: ignore[attr-defined]
        positions=tuple(int(p) for p in positions),  # type: ignore[attr-defined]
    )


def _flagged(tests: list[OutlierTest]) -> list[int]:
    """The single results that were flagged; whole runs only where no single result was."""
    single = [t for t in tests if len(t.positions) == 1]
    return sorted({p for t in single or tests for p in t.positions})


def _rows(test: OutlierTest, level: Level) -> str:
    return row_ranges(level.index[list(test.positions)])


def _figures(job: StudyInput, level: Level) -> tuple[float | None, ...]:
    s_r, s_i = repeatability(job, level), intermediate(job, level)
    recovery = mean_recovery(job, level).value if level.n and level.reference else None
    relative = [100 * s.value / s.mean if s.value is not None and s.mean > 0 else None for s in (s_r, s_i)]
    return (float(level.n), recovery, *relative)
