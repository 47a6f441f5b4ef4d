"""Precision by level, and precision as a function of the level."""

from __future__ import annotations

from collections.abc import Mapping

from validate.stats.precision import repeatability_limit
from validate.stats.precision_function import PrecisionFunction, precision_function
from validate.studies.collaborative_trial.estimates import LevelEstimate
from validate.vocabulary.evaluation import ResultTable, TableColumn

Estimated = Mapping[str, LevelEstimate]
FEWEST_LEVELS = 3
FORM_WORDS = {"proportional": "s = b·m", "linear": "s = a + b·m", "power": "lg s = c + d·lg m"}
SPREADS = {"s_r": "repeatability, s_r", "s_R": "reproducibility, s_R"}
Fits = dict[str, tuple[PrecisionFunction, ...]]


def _text(title: str) -> TableColumn:
    return TableColumn(title=title, kind="text")


def by_level(estimated: Estimated, unit: str) -> ResultTable:
    """One line for each level."""
    with_runs = any(found.s_within is not None for found in estimated.values())
    rows = []
    for level, found in estimated.items():
        s_r, s_R = found.s_r.value, found.s_R.value
        within = (found.s_within.value if found.s_within else None,) if with_runs else ()
        ratio = s_R / s_r if s_r > 0 else None
        counts = (float(found.laboratories), float(found.n))
        limits = (repeatability_limit(s_r), repeatability_limit(s_R))
        rows.append((level, *counts, found.mean, s_r, *within, found.s_L.value, s_R, *limits, ratio))
    names = ("mean", "s_r", *(("s_I",) if with_runs else ()), "s_L", "s_R", "r", "R")
    return ResultTable(
        name="by_level",
        title="Precision by level",
        columns=(
            _text("level"),
            TableColumn(title="laboratories"),
            TableColumn(title="N"),
            *(TableColumn(title=name, unit=unit) for name in names),
            TableColumn(title="γ = s_R/s_r"),
        ),
        rows=tuple(rows),
        note="All results as reported; what the tests for outliers would change stands below. r = 2.8·s_r, "
        "R = 2.8·s_R.",
    )


def fits_of(estimated: Estimated) -> Fits:
    """The three forms fitted to s_r and to s_R; those that cannot be fitted are left out."""
    return {
        name: _fits(
            [(f.mean, (f.s_r if name == "s_r" else f.s_R).value) for f in estimated.values()],
        )
        for name in SPREADS
    }


def _fits(pairs: list[tuple[float, float]]) -> tuple[PrecisionFunction, ...]:
    pairs = [(m, s) for m, s in pairs if m > 0 and s > 0]
    if len(pairs) < FEWEST_LEVELS:
        return ()
    made = []
    for form in FORM_WORDS:
        try:
            made.append(precision_function(*zip(*pairs, strict=True), form=form))  # type: ignore[arg-type]
        except ValueError:
            continue
    return tuple(made)


def forms(fits: Fits) -> ResultTable | None:
    rows = tuple(
        (SPREADS[name], FORM_WORDS[fit.form], fit.intercept, fit.slope, fit.residual_percent)
        for name, several in fits.items()
        for fit in several
    )
    if not rows:
        return None
    return ResultTable(
        name="forms",
        title="Precision as a function of the level",
        columns=(
            _text("standard deviation"),
            _text("form"),
            TableColumn(title="a or c"),
            TableColumn(title="b or d"),
            TableColumn(title="typical misfit", unit="%"),
        ),
        rows=rows,
        note="No form is chosen here: look at the misfit and at the picture. ISO 5725-2:1994, 7.5 (from memory).",
    )
