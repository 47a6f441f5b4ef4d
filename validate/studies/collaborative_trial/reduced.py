"""Everything with and without the cells that the tests point at: figures, limits, relative figures, forms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from validate.stats import horwitz
from validate.stats.precision import repeatability_limit
from validate.studies.collaborative_trial.context import Context
from validate.studies.collaborative_trial.estimates import LevelEstimate, Spread, estimate
from validate.studies.collaborative_trial.findings import limits_of
from validate.studies.collaborative_trial.kinds import BY_NAME, HORRATS
from validate.studies.collaborative_trial.multiples import mass_fraction
from validate.studies.collaborative_trial.screening import Screened
from validate.studies.collaborative_trial.tables import FORM_WORDS, SPREADS, fits_of
from validate.vocabulary.evaluation import ResultTable, TableColumn

ALL = "all results"
WITHOUT_OUTLIERS = "without outliers"
WITHOUT_FLAGGED = "without all flagged"
LEVEL = 0.95


@dataclass(frozen=True)
class Variant:
    """One level with some laboratories left out; `found` is a text where nothing can be estimated."""

    context: Context
    choice: str
    left_out: tuple[str, ...]
    found: LevelEstimate | str

    @property
    def words(self) -> str:
        return f"{self.choice} ({', '.join(self.left_out)})" if self.left_out else self.choice


def variants(contexts: tuple[Context, ...], found: tuple[Screened, ...]) -> tuple[Variant, ...]:
    """For each level with a flag: all results, without the outliers, without every flagged laboratory."""
    return tuple(v for context, each in zip(contexts, found, strict=True) if each.flagged for v in _of(context, each))


def _of(context: Context, screened: Screened) -> Iterator[Variant]:
    yield _variant(context, ALL, ())
    if screened.outliers:
        yield _variant(context, WITHOUT_OUTLIERS, screened.outliers)
    if set(screened.named) != set(screened.outliers):
        yield _variant(context, WITHOUT_FLAGGED, screened.named)


def _variant(context: Context, choice: str, labs: tuple[str, ...]) -> Variant:
    kept = Context(context.job, context.data.without(labs)) if labs else context
    try:
        found: LevelEstimate | str = estimate(kept.data, kept.settings.design, kept.unit)
    except ValueError as reason:
        found = str(reason)
    return Variant(kept, choice, labs, found)


def tables(contexts: tuple[Context, ...], found: tuple[Screened, ...]) -> tuple[ResultTable, ...]:
    """Figures, limits, relative figures and forms; nothing where no test points at a laboratory."""
    made = variants(contexts, found)
    if not made:
        return ()
    forms = _forms(contexts, made)
    return (_figures(made), _limits(made), _relative(made), *(() if forms is None else (forms,)))


def _text(title: str) -> TableColumn:
    return TableColumn(title=title, kind="text")


def _figures(made: tuple[Variant, ...]) -> ResultTable:
    unit = made[0].context.unit
    names = ("mean", "s_r", *(("s_I",) if _with_runs(made) else ()), "s_L", "s_R", "r", "R")
    return ResultTable(
        name="flagged",
        title="Figures with and without flagged laboratories",
        columns=(
            _text("level"),
            _text("results"),
            TableColumn(title="laboratories"),
            TableColumn(title="N"),
            *(TableColumn(title=name, unit=unit) for name in names),
        ),
        rows=tuple((v.context.level, v.words, *_figures_of(v, len(names))) for v in made),
        note="Flagged; a reason is needed; both results stand here. Only a reason written in the protocol excludes.",
    )


def _with_runs(made: tuple[Variant, ...]) -> bool:
    return made[0].context.settings.design.runs is not None


def _figures_of(variant: Variant, count: int) -> tuple[float | None, ...]:
    found, data = variant.found, variant.context.data
    if isinstance(found, str):
        return (float(len(data.labels)), float(data.values.size), *[None] * count)
    s_r, s_L, s_R = found.s_r.value, found.s_L.value, found.s_R.value
    within = () if found.s_within is None else (found.s_within.value,)
    counts = (float(found.laboratories), float(found.n))
    return (*counts, found.mean, s_r, *within, s_L, s_R, repeatability_limit(s_r), repeatability_limit(s_R))


def _limits(made: tuple[Variant, ...]) -> ResultTable:
    unit = made[0].context.unit
    names = ("s_r", *(("s_I",) if _with_runs(made) else ()), "s_L", "s_R", "r", "R")
    return ResultTable(
        name="flagged_limits",
        title="95 % limits with and without flagged laboratories",
        columns=(
            _text("level"),
            _text("results"),
            *(TableColumn(title=f"{name} {end}", unit=unit) for name in names for end in ("from", "to")),
        ),
        rows=tuple((v.context.level, v.words, *_limits_of(v, 2 * len(names))) for v in made),
        note="Limits after a test has taken out a laboratory are a little too narrow: they do not know of the choice.",
    )


def _limits_of(variant: Variant, count: int) -> tuple[float | None, ...]:
    found = variant.found
    if isinstance(found, str):
        return (None,) * count
    s_r, s_R = (_ends(spread) for spread in (found.s_r, found.s_R))
    within = () if found.s_within is None else _ends(found.s_within)
    multiples = [repeatability_limit(end) for end in (*s_r, *s_R)]
    return (*s_r, *within, found.s_L_limits.low, found.s_L_limits.high, *s_R, *multiples)


def _ends(spread: Spread) -> tuple[float, float]:
    shown = limits_of("shown", LEVEL, spread)
    return shown.low, shown.high  # type: ignore[return-value]


def _relative(made: tuple[Variant, ...]) -> ResultTable:
    horrats = made[0].context.settings.horrats
    return ResultTable(
        name="flagged_relative",
        title="Relative figures with and without flagged laboratories",
        columns=(
            _text("level"),
            _text("results"),
            *(TableColumn(title=title, unit="%") for title in ("RSD_r", "RSD_R")),
            *(TableColumn(title=BY_NAME[name].title) for name in horrats),
        ),
        rows=tuple((v.context.level, v.words, *_relative_of(v, horrats)) for v in made),
    )


def _relative_of(variant: Variant, horrats: tuple[str, ...]) -> tuple[float | None, ...]:
    found = variant.found
    if isinstance(found, str) or found.mean <= 0:
        return (None,) * (2 + len(horrats))
    rsd = {"r": 100 * found.s_r.value / found.mean, "R": 100 * found.s_R.value / found.mean}
    fraction, reason = mass_fraction(variant.context, found.mean)
    ratios: list[float | None] = []
    for kind, model in (HORRATS[name] for name in horrats):
        of = rsd["R" if kind == "R" else "r"]
        ratios.append(None if reason else float(horwitz.horrat(of, fraction, model=model, kind=kind)))
    return (rsd["r"], rsd["R"], *ratios)


def _forms(contexts: tuple[Context, ...], made: tuple[Variant, ...]) -> ResultTable | None:
    """The dependence on the level with the figures of every level, reduced where a test points at a laboratory."""
    rows = []
    for choice in (ALL, WITHOUT_OUTLIERS, WITHOUT_FLAGGED):
        if not any(v.choice == choice for v in made):
            continue
        fits = fits_of(
            {c.level: v.found for c in contexts if not isinstance((v := _chosen(c, choice, made)).found, str)}
        )
        rows += [
            (choice, SPREADS[name], FORM_WORDS[fit.form], fit.intercept, fit.slope, fit.residual_percent)
            for name, several in fits.items()
            for fit in several
        ]
    if not rows:
        return None
    return ResultTable(
        name="flagged_forms",
        title="Precision as a function of the level, with and without flagged laboratories",
        columns=(
            _text("results"),
            _text("standard deviation"),
            _text("form"),
            TableColumn(title="a or c"),
            TableColumn(title="b or d"),
            TableColumn(title="typical misfit", unit="%"),
        ),
        rows=tuple(rows),
    )


def _chosen(context: Context, choice: str, made: tuple[Variant, ...]) -> Variant:
    """The level as this choice has it: without outliers where it has no further flag, with all where it has none."""
    own = {v.choice: v for v in made if v.context.level == context.level}
    falls_back = {WITHOUT_FLAGGED: (WITHOUT_FLAGGED, WITHOUT_OUTLIERS, ALL), WITHOUT_OUTLIERS: (WITHOUT_OUTLIERS, ALL)}
    for name in falls_back.get(choice, (ALL,)):
        if name in own:
            return own[name]
    return _variant(context, ALL, ())
