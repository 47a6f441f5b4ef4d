"""What the reader must not miss: a coarse measurement, a pair that disagrees, a trend, too few units."""

from __future__ import annotations

from collections.abc import Iterator

from validate.stats.homogeneity import Homogeneity
from validate.studies.homogeneity.between_units import has_trend
from validate.studies.homogeneity.context import Context
from validate.studies.homogeneity.kinds import FEWEST_UNITS
from validate.studies.homogeneity.tables import flagged_unit
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark
from validate.vocabulary.finding import Finding

LARGEST_SHARE = 0.5
"""s_an above this share of σ_pt: the measurement cannot see what it looks for (IUPAC 2006, from memory)."""


def remarks(context: Context, found: Homogeneity, findings: tuple[Finding, ...]) -> tuple[Remark, ...]:
    told = (*_numbers(context), *_design(context, found), *_flags(context, found, findings))
    return tuple(Remark(kind=kind, text=text, rows=rows) for kind, text, rows in told)  # type: ignore[arg-type]


def _numbers(context: Context) -> Iterator[tuple[str, str, str]]:
    samples = context.samples
    if len(samples.censored):
        count = _counted(len(samples.censored), "result")
        text = f"left out, no verdict: {count} that cannot be used as a number (below a limit, not detected)"
        yield "warning", text, row_ranges(samples.censored)
    if len(samples.without_result):
        yield (
            "note",
            f"without a result: {_counted(len(samples.without_result), 'row')}",
            row_ranges(samples.without_result),
        )
    if samples.at_floor:
        yield "warning", f"at the floor of the reading, no verdict: {_counted(samples.at_floor, 'result')}", ""


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _design(context: Context, found: Homogeneity) -> Iterator[tuple[str, str, str]]:
    sigma = context.sigma.value
    if sigma is not None and found.s_an > LARGEST_SHARE * sigma:
        text = (
            f"s_an is {found.s_an / sigma:.2g} of σ_pt, above {LARGEST_SHARE}: this measurement is too coarse to see "
            "whether units differ; repeat it with a more precise method or with more replicates"
        )
        yield "warning", text, ""
    if found.n_units < FEWEST_UNITS:
        yield "warning", f"{found.n_units} units were measured, {FEWEST_UNITS} are asked for: no verdict", ""
    occasion = context.samples.first
    if occasion.order is None:
        yield "note", "the filling order is not recorded: a trend over it would not be seen", ""
    elif occasion.unit_order is None:
        yield "note", "a unit without a place, or with two, in the filling order: no trend can be looked for", ""


def _flags(context: Context, found: Homogeneity, findings: tuple[Finding, ...]) -> Iterator[tuple[str, str, str]]:
    unit = flagged_unit(found)
    if unit is not None:
        occasion = context.samples.first
        point = "1 %" if found.cochran_c > found.cochran_critical else "5 %"
        text = (
            f"Cochran: the results of unit {unit} differ more than those of the others allow ({point}). Flagged; "
            "a reason is needed; both results stand in the table of the rules"
        )
        yield "flag", text, row_ranges(occasion.rows[occasion.units == unit])
    if has_trend(findings):
        text = "the unit means change over the filling order: their 95 % limits leave out 0; look at mixing and filling"
        yield "flag", text, ""
    if found.variance_sam_raw <= 0:
        text = (
            "units scatter no more than their replicates explain: s_sam counts as 0, and u_hom is what the "
            "repeatability could hide"
        )
        yield "note", text, ""
