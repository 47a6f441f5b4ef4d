"""What is wrong, or worth telling, in the table of a recovery study."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import CheckInput
from validate.studies.recovery.grouping import GROUPING_ROLES, is_recorded
from validate.studies.recovery.settings import MINIMUM_RESULTS, RecoverySettings
from validate.vocabulary.problem import Problem, ProblemCatalogue

MOST_CELLS = 20
"""Cells of one kind of fault that are named one by one."""
RISE_OF_LEVELS = 4.0
RISE_OF_RESULTS = 1.5


def problems_of_table(job: CheckInput, settings: RecoverySettings, problems: ProblemCatalogue) -> Iterator[Problem]:
    """Undeclared levels, results of nothing, missing levels, too few results, recoveries in the place of results."""
    yield from _undeclared(job, settings, problems)
    yield from _numbers(job, settings, problems)
    yield from _look_like_recoveries(job, settings, problems)
    yield from _labels_missing(job, settings, problems)
    for role in (settings.group_by or "").split(" and "):
        if role and not is_recorded(job.table.frame, role):
            yield problems.problem(
                "recovery-group-not-recorded", job.place("group_by"), choice=settings.group_by, role=role
            )


def _undeclared(job: CheckInput, settings: RecoverySettings, problems: ProblemCatalogue) -> Iterator[Problem]:
    from_rows = settings.native is not None and settings.native.from_ == "rows"
    added = job.table.frame["added"]
    declared = ", ".join(settings.design.levels)
    for row, level in added[~added.isin(settings.design.levels)].head(MOST_CELLS).items():
        if level == "0":
            if not from_rows:
                yield problems.problem("recovery-added-zero", job.cell(row, "added"), level=level)
        else:
            yield problems.problem(
                "recovery-level-not-declared", job.cell(row, "added"), level=level, declared=declared
            )
    if from_rows and not added.eq("0").any():
        yield problems.problem("recovery-native-rows-missing", job.place("native"))


def _numbers(job: CheckInput, settings: RecoverySettings, problems: ProblemCatalogue) -> Iterator[Problem]:
    frame, design = job.table.frame, settings.design
    counts = frame[frame["found"].notna()].groupby("added").size()
    rows = frame.groupby("added").size()
    planned = design.replicates * (design.days or 1)
    for number, level in enumerate(design.levels):
        place, found = job.place("design", "levels", number), int(counts.get(level, 0))
        if not rows.get(level, 0):
            yield problems.problem("recovery-level-without-results", place, level=level)
        elif found < MINIMUM_RESULTS:
            yield problems.problem("recovery-few-results", place, found=found, level=level, needed=MINIMUM_RESULTS)
        elif found < planned:
            yield problems.problem("recovery-fewer-than-planned", place, found=found, level=level, planned=planned)


def _labels_missing(job: CheckInput, settings: RecoverySettings, problems: ProblemCatalogue) -> Iterator[Problem]:
    """Columns that say for some results of a level, and not for others, what they belong to."""
    frame = job.table.frame
    for role in GROUPING_ROLES:
        if role not in frame:
            continue
        is_empty = frame[role].isna() | frame[role].eq("")
        for level in settings.design.levels:
            here = is_empty[frame["added"].eq(level) & frame["found"].notna()]
            if here.any() and not here.all():
                values = {"role": role, "empty": int(here.sum()), "results": len(here), "level": level}
                yield problems.problem("recovery-label-missing", job.cell(int(here.idxmax()), role), **values)


def _look_like_recoveries(job: CheckInput, settings: RecoverySettings, problems: ProblemCatalogue) -> Iterator[Problem]:
    """Levels that rise several times over while the results stay; medians, because a blunder may be among them."""
    frame = job.table.frame
    middles = frame[frame["added"].isin(settings.design.levels)].groupby("added")["found"].median().dropna()
    levels = sorted(float(level) for level in middles.index)
    if len(levels) < 2 or levels[0] <= 0 or levels[-1] / levels[0] < RISE_OF_LEVELS or middles.min() <= 0:
        return
    if middles.max() / middles.min() < RISE_OF_RESULTS and settings.native is None:
        yield problems.problem(
            "recovery-results-look-like-recoveries",
            job.place("data"),
            low=f"{levels[0]:g}",
            high=f"{levels[-1]:g}",
            unit=job.method.unit,
            least=f"{middles.min():.3g}",
            most=f"{middles.max():.3g}",
        )
