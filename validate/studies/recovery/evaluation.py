"""Evaluate a recovery study: findings by level, tables, pictures, remarks."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.recovery.design import design_facts, facts_of, varied_factors
from validate.studies.recovery.flags import flag_remarks, outlier_table, tests_at, with_and_without
from validate.studies.recovery.pictures import pictures
from validate.studies.recovery.precision_findings import precision_findings
from validate.studies.recovery.remarks import remarks_of
from validate.studies.recovery.samples import Level, levels_of
from validate.studies.recovery.trueness import trueness_findings
from validate.vocabulary.evaluation import ResultTable, StudyResult, TableColumn
from validate.vocabulary.finding import Finding

LEVEL_NOTE = (
    "Mean found is the mean of the means of days, where days are recorded. Lowest and highest are single results: "
    "shown, never judged. RSD is that of the results found, not of the recoveries."
)


def evaluate_levels(job: StudyInput) -> StudyResult:
    """One finding of every kind for every declared level; a level without results says so."""
    levels = levels_of(job)
    by_name = {level.level: level for level in levels}
    findings = tuple(f for level in levels for f in (*trueness_findings(job, level), *precision_findings(job, level)))
    tests = tuple(test for level in levels for test in tests_at(job, level))
    tables = [_level_table(job, levels, findings)]
    if tests:
        tables.append(outlier_table(tests, by_name))
    compared = with_and_without(job, tests, by_name)
    if compared is not None:
        tables.append(compared)
    return StudyResult(
        findings=findings,
        design=design_facts(job, levels),
        varied=varied_factors(job),
        tables=tuple(tables),
        plots=pictures(job, levels, findings),
        remarks=(*remarks_of(job, levels), *flag_remarks(tests, by_name)),
        facts=facts_of(job, levels),
    )


def _level_table(job: StudyInput, levels: tuple[Level, ...], findings: tuple[Finding, ...]) -> ResultTable:
    unit = job.method.unit
    columns = (
        TableColumn(title="level", unit=unit, kind="text"),
        TableColumn(title="n"),
        TableColumn(title=levels[0].days.many if levels[0].days else "days"),
        TableColumn(title="mean found", unit=unit),
        TableColumn(title="mean recovery", unit="%"),
        TableColumn(title="lowest recovery", unit="%"),
        TableColumn(title="highest recovery", unit="%"),
        TableColumn(title="s_r", unit=unit),
        TableColumn(title="RSD_r", unit="%"),
        TableColumn(title="s_I", unit=unit),
        TableColumn(title="RSD_I", unit="%"),
    )
    values = {(f.name, f.level): f.value for f in findings}
    return ResultTable(
        name="levels",
        title="Results by level",
        columns=columns,
        rows=tuple(_line(level, values) for level in levels),
        note=LEVEL_NOTE,
    )


def _line(level: Level, values: dict[tuple[str, str | None], float | None]) -> tuple[str | float | None, ...]:
    single = level.single_recoveries if level.n else None
    ends = (None, None) if single is None else (float(single.min()), float(single.max()))
    names = ("s_r", "rsd_r", "s_intermediate", "rsd_intermediate")
    return (
        level.level,
        float(level.n),
        None if level.days is None else float(level.days.count),
        level.mean_found if level.n else None,
        values["mean_recovery", level.level],
        *ends,
        *(values[name, level.level] for name in names),
    )
