"""The tables of a precision study: components, results by level, the claim, tests, the three forms."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from validate.stats import precision
from validate.stats.precision_function import PrecisionFunction, precision_function
from validate.studies.precision.context import LevelContext
from validate.studies.precision.kinds import BY_NAME
from validate.studies.precision.model import Components
from validate.studies.precision.settings import PrecisionSettings
from validate.studies.precision.words import shown
from validate.vocabulary.evaluation import ResultTable, TableColumn
from validate.vocabulary.finding import Finding

FORM_WORDS = {
    "proportional": "I: s = b · m",
    "linear": "II: s = a + b · m",
    "power": "III: lg s = c + d · lg m",
}
FEWEST_LEVELS = 3
Estimated = Mapping[str | None, Components]


def _text(title: str) -> TableColumn:
    return TableColumn(title=title, kind="text")


def _plain(title: str) -> TableColumn:
    return TableColumn(title=title)


def components_table(estimated: Estimated, unit: str) -> ResultTable:
    """Every component of every level, the raw variance included."""
    rows = tuple(
        (
            shown(level),
            line.title,
            line.raw,
            line.sd,
            line.low,
            line.high,
            line.df,
            None if line.count is None else float(line.count),
            line.method.split(" (")[0],
        )
        for level, found in estimated.items()
        for line in found.rows
    )
    return ResultTable(
        name="components",
        title="Components of variance",
        columns=(
            _text("level"),
            _text("component"),
            TableColumn(title="variance as estimated", unit=f"({unit})²"),
            TableColumn(title="standard deviation", unit=unit),
            TableColumn(title="low", unit=unit),
            TableColumn(title="high", unit=unit),
            TableColumn(title="df"),
            TableColumn(title="groups"),
            _text("limits, 95 %"),
        ),
        rows=rows,
        note="A negative variance estimate is kept here and counted as 0. Limits of one factor are for information "
        "(MLS: Ting et al. 1990).",
    )


def claim_table(settings: PrecisionSettings, s_r: Iterable[Finding], unit: str) -> ResultTable | None:
    """The chi-square comparison with a claimed repeatability."""
    claimed = settings.claimed
    if claimed is None:
        return None
    rows = []
    for finding in s_r:
        sigma = claimed.at(finding.level)
        if sigma is None or finding.value is None:
            continue
        test = precision.against_claim(finding.value, finding.df, sigma)
        rows.append(
            (
                shown(finding.level),
                finding.value,
                sigma,
                test.ratio,
                test.low,
                test.high,
                test.chi2,
                test.df,
                test.p_value,
            )
        )
    return ResultTable(
        name="claim",
        title="Repeatability against the claim",
        columns=(
            _text("level"),
            TableColumn(title="s_r", unit=unit),
            TableColumn(title="claimed", unit=unit),
            TableColumn(title="ratio"),
            TableColumn(title="low, 95 %"),
            TableColumn(title="high, 95 %"),
            TableColumn(title="χ²"),
            TableColumn(title="df"),
            TableColumn(title="p, true SD above the claim"),
        ),
        rows=tuple(rows),
        note=f"Claim: {claimed.source}. A large p is no finding: hold the upper limit of the ratio against 1.",
    )


def forms_of(estimated: Estimated, name: str) -> tuple[PrecisionFunction, ...]:
    """The three forms fitted to s_r (`s_r`) or to a total of that name; those that cannot be fitted are left out."""
    pairs = [(found.mean, _sd(found, name)) for found in estimated.values()]
    pairs = [(m, s) for m, s in pairs if m > 0 and s > 0]
    if len(pairs) < FEWEST_LEVELS:
        return ()
    fits = []
    for form in FORM_WORDS:
        try:
            fits.append(precision_function(*zip(*pairs, strict=True), form=form))  # type: ignore[arg-type]
        except ValueError:
            continue
    return tuple(fits)


def _sd(found: Components, name: str) -> float:
    return found.s_r.value if name == "s_r" else found.totals[name].value


def forms_table(fits: Mapping[str, tuple[PrecisionFunction, ...]], words: Mapping[str, str]) -> ResultTable | None:
    """The fitted forms for each kind of standard deviation."""
    rows = tuple(
        (words[name], FORM_WORDS[fit.form], fit.intercept, fit.slope, fit.residual_percent)
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
        note="A diagnostic: no form is chosen here. ISO 5725-2:1994, 7.5 (from memory).",
    )


def limits_table(contexts: Iterable[LevelContext], estimated: Estimated) -> ResultTable | None:
    """One line for each level: results, groups, mean, s_r and totals with their limits r and R by both factors."""
    if not estimated:
        return None
    first = next(iter(estimated.values()))
    unit = next(context.job.method.unit for context in contexts)
    spreads = ["s_r", *first.totals]
    limits = {"s_r": "r", "s_reproducibility": "R"}
    columns = [_text("level"), *map(_plain, ("N", "groups")), TableColumn(title="mean", unit=unit)]
    for name in spreads:
        columns.append(TableColumn(title=BY_NAME[name].symbol, unit=unit))
        if name in limits:
            columns += [
                TableColumn(title=f"{limits[name]}, factor 2.8", unit=unit),
                TableColumn(title=f"{limits[name]}, factor 1.96·√2", unit=unit),
            ]
    rows = []
    for level, found in estimated.items():
        row: list[str | float | None] = [shown(level), float(found.n), float(found.groups), found.mean]
        for name in spreads:
            sd = _sd(found, name)
            row.append(sd)
            if name in limits:
                factors = (precision.FACTOR_ISO, precision.FACTOR_EXACT)
                row += [precision.repeatability_limit(sd, factor=factor) for factor in factors]
        rows.append(tuple(row))
    return ResultTable(name="by_level", title="Precision by level", columns=tuple(columns), rows=tuple(rows))
