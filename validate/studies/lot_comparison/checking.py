"""What is wrong or worth telling before a comparison is evaluated."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from validate.studies.contract import CheckInput
from validate.studies.lot_comparison.columns import CONTENTS, SAMPLE
from validate.studies.lot_comparison.history import earlier_steps
from validate.studies.lot_comparison.kinds import HISTORY, prefix_of
from validate.studies.lot_comparison.pairing import CURRENT, NEW, compared, results_of, side_of
from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.vocabulary.problem import Problem, ProblemCatalogue

if TYPE_CHECKING:
    from validate.tables.table import Table

PROBLEMS = ProblemCatalogue(__file__)
MOST_TOLD = 20


def check(asked: CheckInput) -> Iterator[Problem]:
    """Problems of settings, history and table of one study, all at once."""
    settings: LotComparisonSettings = asked.settings  # type: ignore[assignment]
    from validate.studies.lot_comparison.deciding import foretold

    yield from _findings_of_another_design(asked, settings)
    for code, values in foretold(settings):
        yield PROBLEMS.problem(code, asked.place("design"), study=asked.name, **values)
    _, faults = earlier_steps(settings, asked.files, asked.method.unit, asked.method.measurand)
    for position, reason in faults:
        file = settings.history[position].file
        yield PROBLEMS.problem(reason.code, asked.place("history", position), file=file, **reason.values)
    if asked.table is None:
        return
    if len(asked.table.frame) == 0:
        yield PROBLEMS.problem("no-results", asked.place("data"), study=asked.name)
        return
    yield from _other_words(asked, settings, asked.table)
    yield from _sides(asked, settings, asked.table)
    yield from _left_out(asked, settings, asked.table)


def _findings_of_another_design(asked: CheckInput, settings: LotComparisonSettings) -> Iterator[Problem]:
    """A criterion on a figure of the other form, design or factor is never answered."""
    prefix, form = prefix_of(settings.factor), "ratio" if settings.is_ratio else "difference"
    own = {settings.primary, f"{prefix}_{form}", f"{prefix}_difference"}
    if len(settings.design.levels) > 1:
        own.add(f"{prefix}_{form}_overall")
    for name in settings.accept:
        compares = name.startswith(("lot_", "new_"))
        if (compares and name not in own) or (name in HISTORY and not settings.history):
            given = ", ".join(sorted(own)) if compares else "no figure on earlier lots without `history`"
            yield PROBLEMS.problem("finding-of-another-design", asked.place("accept", name), finding=name, given=given)


def _other_words(asked: CheckInput, settings: LotComparisonSettings, table: Table) -> Iterator[Problem]:
    """Labels that are neither new nor current, levels that are not declared, contents that are none."""
    frame = table.frame
    allowed = {settings.factor: (settings.new, settings.current)}
    if "what" in frame.columns:
        allowed["what"] = ("", *CONTENTS)
    for role, words in allowed.items():
        other = frame.index[~frame[role].isin(words)]
        for row in other[:MOST_TOLD]:
            yield PROBLEMS.problem(
                "other-label",
                asked.cell(row, role),
                value=frame.at[row, role],
                column=role,
                words=", ".join(word for word in words if word),
                count=len(other),
            )
    if settings.design.levels:
        samples = results_of(table, SAMPLE)
        other = samples.index[~samples["level"].isin(settings.design.levels)]
        for row in other[:MOST_TOLD]:
            yield PROBLEMS.problem(
                "undeclared-level",
                asked.cell(row, "level"),
                level=samples.at[row, "level"],
                declared=", ".join(settings.design.levels),
            )
    elif "level" in frame.columns and not settings.is_shift and len(set(frame["level"]) - {""}) > 1:
        yield PROBLEMS.problem("levels-not-declared", asked.place("design"), count=len(set(frame["level"]) - {""}))


def _sides(asked: CheckInput, settings: LotComparisonSettings, table: Table) -> Iterator[Problem]:
    samples = results_of(table, SAMPLE)
    for side, label in ((NEW, settings.new), (CURRENT, settings.current)):
        if not len(side_of(samples, settings, side)):
            yield PROBLEMS.problem("no-results-with", asked.place(side), factor=settings.factor, label=label)
    if settings.paired:
        moved = samples.groupby("sample")["level"].nunique() if settings.design.levels else ()
        for sample in [] if not len(moved) else moved.index[moved > 1]:
            row = samples.index[samples["sample"] == sample][0]
            yield PROBLEMS.problem("sample-at-two-levels", asked.cell(row, "sample"), sample=sample)
    if settings.group_means and (samples["group"] == "").any():
        row = samples.index[samples["group"] == ""][0]
        yield PROBLEMS.problem("group-missing", asked.cell(row, "group"))


def _left_out(asked: CheckInput, settings: LotComparisonSettings, table: Table) -> Iterator[Problem]:
    parts = compared(table, settings)
    if settings.paired and all(part.n == 0 for part in parts):
        yield PROBLEMS.problem("no-pair", asked.place("data"), study=asked.name, factor=settings.factor)
        return
    for part in parts:
        at = "" if part.level is None else f" at {part.level}"
        if not part.rows and not part.censored and not part.lone:
            yield PROBLEMS.problem("level-without-results", asked.place("design"), at=at)
            continue
        for row in part.lone[:MOST_TOLD]:
            side = table.frame.at[row, settings.factor]
            other = settings.current if side == settings.new else settings.new
            sample = table.frame.at[row, "sample"]
            yield PROBLEMS.problem(
                "partner-missing", asked.cell(row, "sample"), sample=sample, factor=settings.factor, label=other
            )
        for row in part.censored[:MOST_TOLD]:
            shown = table.marks.at[row, "result"] or f"{table.frame.at[row, 'result']:g}"
            yield PROBLEMS.problem("censored-result", asked.cell(row, "result"), value=shown, at=at)
        if part.paired and part.n == 1 and not settings.is_shift:
            yield PROBLEMS.problem("one-pair", asked.cell(part.rows[0], "sample"), at=at)
        if part.paired and part.n > 1 and float(part.differences.max()) == float(part.differences.min()):
            yield PROBLEMS.problem("all-equal", asked.cell(part.rows[0], "result"), n=part.n, at=at)
