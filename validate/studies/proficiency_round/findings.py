"""Findings of a round: how each target was assigned, on which scale, and how many scores are acceptable."""

from __future__ import annotations

import numpy as np

from validate.studies.proficiency_round.assigning import Assigned, Scale
from validate.studies.proficiency_round.scoring import Scores, counts
from validate.studies.proficiency_round.settings import EXPERTS, STATED
from validate.studies.proficiency_round.submitted import Submitted
from validate.vocabulary.finding import Finding, Interval, Rows, Symbol, Working

ISO = "ISO 13528:2015 (from memory)"
COVERAGE = 2.0
SIGMA_WORDS = {
    "prescribed": "prescribed by the scheme",
    "horwitz": "predicted from the mass fraction by Horwitz, 2^(1 − 0.5·log C) %",
    "horwitz-aoac": "predicted from the mass fraction by Horwitz, 2·C^−0.15 %",
    "thompson": "predicted from the mass fraction by Thompson's three branches",
    "precision experiment": "from a precision experiment: √(s_R² − s_r²·(1 − 1/n))",
    "earlier rounds": "from earlier rounds of the scheme",
    "this round": "the robust standard deviation of this round: it depends on who took part",
}
CONSENSUS_WORDS = {
    "algorithm A": "robust mean of the results by algorithm A",
    "Q method": "Hampel's mean of the results with the spread of the Q method",
    "median, MADe": "median of the results, spread by the median absolute deviation",
    "median, nIQR": "median of the results, spread by the interquartile range",
    "kernel mode": "highest mode of the kernel density of the results",
}


def findings_of(sent: Submitted, scales: tuple[Scale, ...], scores: Scores) -> tuple[Finding, ...]:
    """Name by name, target by target."""
    made = [_of_target(sent, scale, scores, i) for i, scale in enumerate(scales)]
    return tuple(finding for group in zip(*made, strict=True) for finding in group)


def _of_target(sent: Submitted, scale: Scale, scores: Scores, i: int) -> tuple[Finding, ...]:
    rows = sent.rows[i][~np.isnan(sent.results[i])]
    own = {"level": scale.target.label, "rows": (Rows(file=sent.file, ranges=_ranges(rows)),) if len(rows) else ()}
    return (
        _assigned(scale, own),
        _u_assigned(scale, own),
        _sigma(scale, own),
        _ratio(scale, own),
        _robust_sd(scale, own),
        _acceptable(scores, scale, i, own),
    )


def _ranges(rows: np.ndarray) -> str:
    from validate.tables.table import row_ranges

    return row_ranges(rows)


def how_assigned(chosen: Assigned, source: str | None) -> str:
    """In words: by what the value was set."""
    if chosen.by in STATED or chosen.by == EXPERTS:
        words = {"formulation": "by formulation", "certified value": "certified value"}.get(
            chosen.by, "mean of experts"
        )
        return f"{words}: {source}" if source else words
    return CONSENSUS_WORDS[chosen.by]


def _assigned(scale: Scale, own: dict) -> Finding:
    chosen, value = scale.chosen, scale.chosen.value
    limits = ()
    if value is not None and chosen.u is not None:
        low, high = value - COVERAGE * chosen.u, value + COVERAGE * chosen.u
        limits = (Interval(use="shown", level=0.95, low=low, high=high, method="x_pt ± 2·u(x_pt)"),)
    notes = ("the declared way could not be used; this is the fallback that was declared beforehand",)
    return Finding(
        name="assigned_value",
        value=value,
        unit=scale.target.unit,
        n=chosen.n,
        intervals=limits,
        reason=None if value is not None else chosen.reason,
        formula=how_assigned(chosen, scale.target.assigned_value.source),
        source=ISO + ", clause 7",
        notes=notes if scale.fallback else (),
        **own,
    )


def _u_assigned(scale: Scale, own: dict) -> Finding:
    chosen, unit = scale.chosen, scale.target.unit
    working = None
    if chosen.u is not None and chosen.sd is not None and chosen.n:
        symbols = [
            Symbol(name="s", printed="s", meaning="spread of the results", value=chosen.sd, unit=unit),
            Symbol(name="p", printed="p", meaning="results", value=chosen.n, unit="1"),
        ]
        expression = chosen.formula
        if any(scale.carried):
            expression = f"√(({expression})^2 + {{u_hom}}^2 + {{u_stab}}^2)"
            for name, value in zip(("u_hom", "u_stab"), scale.carried, strict=True):
                symbols.append(Symbol(name=name, printed=name, meaning="of the material", value=value, unit=unit))
        working = Working(expression=expression, symbols=tuple(symbols))
    return Finding(
        name="u_assigned",
        value=chosen.u,
        unit=unit,
        n=chosen.n,
        working=working,
        reason=None if chosen.u is not None else chosen.reason or "no assigned value",
        formula="standard uncertainty of x_pt",
        source=ISO + ", clause 7",
        **own,
    )


def _sigma(scale: Scale, own: dict) -> Finding:
    declared, unit = scale.target.sigma_pt, scale.target.unit
    working = None
    if scale.sigma is not None:
        working = _sigma_working(scale)
    formula = SIGMA_WORDS[declared.by] + (", widened by the spread of the units" if scale.widened_by else "")
    return Finding(
        name="sigma_pt",
        value=scale.sigma,
        unit=unit,
        working=working,
        reason=None if scale.sigma is not None else scale.sigma_reason,
        formula=formula,
        source=declared.source or ISO + ", clause 8",
        **own,
    )


def _sigma_working(scale: Scale) -> Working | None:
    declared, unit = scale.target.sigma_pt, scale.target.unit
    if declared.by == "precision experiment":
        expression = "√({s_R}^2 − {s_r}^2 · (1 − 1 / {n}))"
        symbols = [
            ("s_R", "s_R", "reproducibility SD", declared.s_R, unit),
            ("s_r", "s_r", "repeatability SD", declared.s_r, unit),
            ("n", "n", "results that are averaged", declared.replicates, "1"),
        ]
    elif declared.percent is not None:
        expression = "{percent} / 100 · {x}"
        symbols = [
            ("percent", "RSD", "allowed", declared.percent, "%"),
            ("x", "x_pt", "assigned value", scale.chosen.value, unit),
        ]
    elif scale.widened_by:
        expression = "{narrow}"
        narrow = (scale.sigma**2 - scale.widened_by**2) ** 0.5
        symbols = [("narrow", "σ_pt", "of the scheme", narrow, unit)]
    else:
        return None
    if scale.widened_by:
        expression = f"√(({expression})^2 + {{s_sam}}^2)"
        symbols.append(("s_sam", "s_sam", "spread of the units", scale.widened_by, unit))
    return Working(
        expression=expression,
        symbols=tuple(Symbol(name=n, printed=p, meaning=m, value=v, unit=u) for n, p, m, v, u in symbols),
    )


def _ratio(scale: Scale, own: dict) -> Finding:
    working = None
    if scale.ratio is not None:
        working = Working(
            expression="{u} / {sigma}",
            symbols=(
                Symbol(
                    name="u",
                    printed="u(x_pt)",
                    meaning="uncertainty of the assigned value",
                    value=scale.chosen.u,
                    unit=scale.target.unit,
                ),
                Symbol(
                    name="sigma",
                    printed="σ_pt",
                    meaning="standard deviation for the scores",
                    value=scale.sigma,
                    unit=scale.target.unit,
                ),
            ),
        )
    return Finding(
        name="u_ratio",
        value=scale.ratio,
        unit="",
        n=scale.chosen.n,
        working=working,
        reason=None if scale.ratio is not None else "x_pt, its uncertainty or σ_pt is missing",
        formula="u(x_pt)/σ_pt; above 0.3 the uncertainty of the assigned value is not negligible",
        source=ISO + ", 9.2",
        **own,
    )


def _robust_sd(scale: Scale, own: dict) -> Finding:
    star = scale.star
    value = star.sd if star else None
    reason = None if value is not None else (star.reason if star else "fewer than 3 results with a number")
    return Finding(
        name="robust_sd",
        value=value,
        unit=scale.target.unit,
        n=star.n if star else None,
        reason=reason,
        formula="algorithm A with exact constants",
        source=ISO + ", C.3",
        **own,
    )


def _acceptable(scores: Scores, scale: Scale, i: int, own: dict) -> Finding:
    acceptable, warning, action = counts(scores, i)
    scored = acceptable + warning + action
    if not scored:
        reason = scale.refused or "no laboratory could be scored"
        return Finding(
            name="acceptable_share",
            value=None,
            unit="%",
            reason=reason,
            formula="laboratories with |score| ≤ 2",
            source=ISO + ", 9.4.2",
            **own,
        )
    working = Working(
        expression="100 · {acceptable} / {scored}",
        symbols=(
            Symbol(name="acceptable", printed="a", meaning="laboratories with |score| ≤ 2", value=acceptable, unit="1"),
            Symbol(name="scored", printed="n", meaning="laboratories with a score", value=scored, unit="1"),
        ),
    )
    return Finding(
        name="acceptable_share",
        value=100 * acceptable / scored,
        unit="%",
        n=scored,
        working=working,
        formula=f"laboratories with |{scores.classifying[i]}| ≤ 2 among those with a score",
        source=ISO + ", 9.4.2",
        **own,
    )
