"""The samples by level, the ones sorted wrongly, and the decisions beside a reference method."""

from __future__ import annotations

from validate.studies.screening.counting import Counts, agreement_of
from validate.studies.screening.samples import Group
from validate.studies.screening.settings import BLANK, DECISION
from validate.vocabulary.evaluation import ResultTable, TableColumn

MOST_SHOWN = 30


def name_of(level: str, target: str | None) -> str:
    """The level in words: `0 (negative)`, `4 (target)`."""
    if level == BLANK:
        return "0 (negative)"
    return f"{level} (target)" if level == target else level


def sample_table(counts: Counts) -> ResultTable:
    """Every level: samples, days, suspects and their share, mean and SD of the readings."""
    samples = counts.samples
    unit, reads = samples.unit, samples.settings.reads != DECISION
    columns = [
        TableColumn(title="level", unit=samples.job.method.unit, kind="text"),
        TableColumn(title="samples"),
        TableColumn(title="days"),
        TableColumn(title="suspect"),
        TableColumn(title="share", unit="%"),
    ]
    if reads:
        columns += [TableColumn(title=title, unit=unit) for title in ("mean", "SD")]
    some_censored = any(group.censored for group in samples.groups)
    if some_censored:
        columns.append(TableColumn(title="without number"))
    rows = []
    for group in samples.groups:
        if not group.n and group.level == BLANK and not samples.settings.design.negatives:
            continue
        counted = counts.by_level.get(group.level)
        some = counted is not None and counted.n > 0
        row: list[str | float | None] = [
            name_of(group.level, samples.settings.target_level),
            float(group.n),
            None if group.days is None else float(group.days),
            float(len(counted.suspect)) if some else None,
            100 * len(counted.suspect) / counted.n if some else None,
        ]
        row += _readings(group) if reads else []
        row += [float(len(group.censored))] if some_censored else []
        rows.append(tuple(row))
    return ResultTable(name="samples", title="Samples by level", columns=tuple(columns), rows=tuple(rows),
                       note=f"Suspect: {counts.words}.")  # fmt: skip


def _readings(group: Group) -> list[float | None]:
    x = group.readings
    mean = float(x.mean()) if len(x) else None
    sd = float(x.std(ddof=1)) if len(x) > 1 else None
    return [mean, sd]


def wrong_table(counts: Counts) -> ResultTable | None:
    """Negative samples that are suspect and samples at the target that were missed, one by one."""
    samples, rows = counts.samples, []
    target = samples.settings.target_level
    for level, what in ((BLANK, "negative, suspect"), (target, "at the target, missed")):
        counted = counts.by_level.get(level or "")
        if level is None or counted is None:
            continue
        for row in counted.suspect if level == BLANK else counted.cleared:
            rows.append((str(row), _label(counted.group, row, "sample"), what, _reading(counts, counted.group, row),
                         _label(counted.group, row, "day"), _label(counted.group, row, "lot")))  # fmt: skip
    if not rows:
        return None
    columns = (
        TableColumn(title="row", kind="text"),
        TableColumn(title="sample", kind="text"),
        TableColumn(title="what", kind="text"),
        TableColumn(title="result", unit=samples.unit if samples.settings.reads != DECISION else "", kind="text"),
        TableColumn(title="day", kind="text"),
        TableColumn(title="lot", kind="text"),
    )
    note = f"The first {MOST_SHOWN} of {len(rows)}." if len(rows) > MOST_SHOWN else ""
    return ResultTable(name="wrong", title="Samples sorted wrongly", columns=columns, rows=tuple(rows[:MOST_SHOWN]),
                       note=note)  # fmt: skip


def _label(group: Group, row: int, role: str) -> str:
    return str(group.frame.loc[row, role] or "–") if role in group.frame else "–"


def _reading(counts: Counts, group: Group, row: int) -> str:
    value = group.frame.loc[row, counts.samples.settings.role]
    if isinstance(value, str):
        return value
    return f"{value:.6g}" if value == value else str(group.marks.loc[row])


def class_table(counts: Counts) -> ResultTable | None:
    """Decisions of both methods: the four fields."""
    found = agreement_of(counts) if counts.samples.settings.design.compared else "not asked"
    if isinstance(found, str):
        return None
    target = f"{counts.samples.settings.target} {counts.samples.job.method.unit}"
    columns = (
        TableColumn(title="by the reference method", kind="text"),
        TableColumn(title="suspect"),
        TableColumn(title="not suspect"),
    )
    rows = (
        (f"at or above {target}", float(found.both_above), float(found.only_reference)),
        (f"below {target}", float(found.only_test), float(found.neither)),
    )
    reference = counts.samples.settings.reference
    return ResultTable(name="classes", title="Decisions beside the reference method", columns=columns, rows=rows,
                       note=f"Reference: {reference}.")  # fmt: skip
