"""From a validation protocol and its tables to a dossier that can be recomputed.

For a notebook:

    import validate

    work = validate.load("protocols/coffee")      # read and checked; work.problems
    evaluation = validate.evaluate(work)          # findings, intervals, verdicts
    validate.findings(evaluation)                 # a DataFrame
    validate.requirements(evaluation)             # criteria and verdicts, a DataFrame
    validate.section(work, evaluation, "recovery-in-coffee")   # shows itself, with its pictures
    validate.stats.precision.one_way(values, days)

Evaluations, findings and plots show themselves inline. Nothing heavy is imported before it is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from validate.vocabulary.inline import show_with

if TYPE_CHECKING:
    import pandas as pd

    from validate.pipeline import Prepared
    from validate.vocabulary.evaluation import Evaluation

__all__ = ["evaluate", "findings", "load", "render", "requirements", "section", "stats"]


def load(protocol: str | Path) -> Prepared:
    """Read and check a protocol (a file or its folder) and its tables; see `.problems`.

    Raises InputRefused with every problem when the protocol itself cannot be read.
    """
    from validate.pipeline import prepare

    return prepare(Path(protocol))


def evaluate(work: Prepared) -> Evaluation:
    """Evaluate and judge what `load` returned. Raises InputRefused when it has errors."""
    from validate import pipeline

    return pipeline.evaluate(work)


def render(work: Prepared, evaluation: Evaluation, folder: str | Path, *, with_pdf: bool = True) -> None:
    """Write the dossier of an evaluation into `folder`; an earlier one is replaced when this one is complete.

    Raises EnvironmentFails when the folder cannot be written or the PDF cannot be made.
    """
    from validate import pipeline
    from validate.provenance.writing import EnvironmentFails, write_files

    rendered = pipeline.render(work, evaluation, with_pdf=with_pdf)
    write_files(Path(folder), rendered.files, remove=() if "dossier.pdf" in rendered.files else ("dossier.pdf",))
    if rendered.missing_pdf:
        raise EnvironmentFails(rendered.missing_pdf)


def findings(evaluation: Evaluation, *, as_recorded: bool = False) -> pd.DataFrame:
    """One row per finding: study, finding, level, value, unit, 95 % limits, n, df, reason."""
    from validate.frames import findings as frame

    return frame(evaluation, as_recorded=as_recorded)


def requirements(evaluation: Evaluation) -> pd.DataFrame:
    """One row per criterion: bound, source, verdict as reported and as recorded, evidence, reason."""
    from validate.frames import requirements as frame

    return frame(evaluation)


@dataclass(frozen=True)
class Section:
    """The section of one study as HTML that a notebook shows."""

    html: str

    def _repr_html_(self) -> str:
        return self.html


def section(work: Prepared, evaluation: Evaluation, study: str) -> Section:
    """The section of `study` (its name in the protocol) as it stands in the dossier; KeyError when there is none."""
    from validate.dossier.inline import study_html
    from validate.studies.discovery import section_template

    templates = {kind.kind: section_template(kind.kind) for kind in work.studies.values()}
    return Section(study_html(evaluation, work.inputs, templates, study))


def _inline_html(thing: Any) -> str:
    from validate.dossier.inline import inline_html

    return inline_html(thing)


show_with(_inline_html)


def __getattr__(name: str) -> Any:
    if name == "stats":
        return import_module("validate.stats")
    raise AttributeError(f"module 'validate' has no attribute {name!r}")
