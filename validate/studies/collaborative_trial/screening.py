"""What stands out: the tests in their order, their table, and a flag for each laboratory that one points at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validate.stats.interlaboratory import Screening, Step, screen
from validate.studies.collaborative_trial.context import Context
from validate.studies.collaborative_trial.settings import SPLIT
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark, ResultTable, TableColumn


@dataclass(frozen=True)
class Screened:
    """The tests of one level. A split level is tested on averages and on differences."""

    level: str
    parts: tuple[tuple[str, Screening], ...]

    @property
    def outliers(self) -> tuple[str, ...]:
        """Laboratories that the tests would take out."""
        return tuple(dict.fromkeys(str(lab) for _, found in self.parts for lab in found.removed))

    @property
    def steps(self) -> tuple[tuple[str, Step], ...]:
        return tuple((what, step) for what, found in self.parts for step in found.steps)

    @property
    def flagged(self) -> tuple[tuple[str, Step], ...]:
        return tuple((what, step) for what, step in self.steps if step.word in ("outlier", "straggler"))

    @property
    def named(self) -> tuple[str, ...]:
        """Every laboratory that a test points at."""
        return tuple(dict.fromkeys(str(lab) for _, step in self.flagged for lab in step.laboratories))


def screened(context: Context) -> Screened:
    """The tests of ISO 5725-2 at one level; runs keep their scatter out of Cochran's test."""
    data = context.data
    if context.settings.design.kind == SPLIT:
        labels, first, second, _ = data.pairs()
        averages, differences = (first + second) / 2, first - second
        parts = (("averages", screen(averages, labels)), ("differences", screen(differences, labels)))
    else:
        run = None if data.run is None else data.run.tolist()
        parts = (("", screen(data.values, data.laboratories.tolist(), run=run)),)
    return Screened(data.level, parts)


def steps_table(found: tuple[Screened, ...]) -> ResultTable:
    """Every test that was made or could not be made, in its order."""
    rows = tuple(
        (each.level, f"{step.test}{', ' if what else ''}{what}", ", ".join(map(str, step.laboratories)), step.statistic,
         step.critical_5, step.critical_1, outcome(step))
        for each in found
        for what, step in each.steps
        if not (what and step.test.startswith("Cochran"))
    )  # fmt: skip
    return ResultTable(
        name="screening",
        title="Tests for laboratories that stand out, in the order of ISO 5725-2",
        columns=(
            _text("level"),
            _text("test"),
            _text("laboratory"),
            TableColumn(title="statistic"),
            TableColumn(title="critical, 5 %"),
            TableColumn(title="critical, 1 %"),
            _text("outcome"),
        ),
        rows=rows,
        note="Cochran on the scatter within laboratories, once more after an outlier; Grubbs on the means: the "
        "farthest, then the opposite end, pairs only where no single mean stands out (small values stand out). No more "
        "than 2/9 of the laboratories may leave a level. Tests from memory; nothing was removed from the findings.",
    )


def outcome(step: Step) -> str:
    """In the words of ISO 5725-2: outlier beyond the 1 % point, straggler beyond the 5 % point."""
    if step.word == "not tested":
        return f"not tested: {step.reason}"
    words = {"outlier": "outlier (1 %)", "straggler": "straggler (5 %), stays", "nothing": "nothing stands out"}
    return f"{words[step.word]}; {step.reason}" if step.reason else words[step.word]


def flags(context: Context, found: Screened) -> tuple[Remark, ...]:
    """One flag for each test that points at a laboratory."""
    told = []
    for what, step in found.flagged:
        labs = [str(lab) for lab in step.laboratories]
        rows = row_ranges(context.data.rows[np.isin(context.data.laboratories, labs)])
        who = f"laboratory {labs[0]}" if len(labs) == 1 else f"laboratories {' and '.join(labs)}"
        text = f"{step.test}{', ' if what else ''}{what}: {who}, {outcome(step)}. A reason is needed; the results stay."
        told.append(Remark(kind="flag", text=text, level=context.level, rows=rows))
    return tuple(told)


def _text(title: str) -> TableColumn:
    return TableColumn(title=title, kind="text")
