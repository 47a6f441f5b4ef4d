"""Findings of one level: its parts, u, U in the unit and in percent."""

from __future__ import annotations

from math import isinf

from validate.stats.intervals import sd_limits
from validate.studies.contract import ALPHA, StudyInput
from validate.studies.uncertainty.budget import BIAS_PARTS, WITHIN, Component, LevelBudget, law_problem, symbol
from validate.studies.uncertainty.settings import FEWEST_OCCASIONS, UncertaintySettings
from validate.vocabulary.finding import Finding, Interval, Sampling, Symbol, Working
from validate.vocabulary.limits import limits_working

SOURCE = "GUM (JCGM 100:2008) 5.1.2 and G.4.1; top-down as in Nordtest report TR 537 (from memory)"
FORMULAS = {
    "u_within": "s_Rw",
    "u_bias": "√(Σ of the squared bias components)",
    "u_combined": "√(Σ of the squared components)",
    "expanded_uncertainty": "U = k·u",
    "expanded_uncertainty_percent": "U_rel = 100·k·u/x",
}


def level_findings(job: StudyInput, budget: LevelBudget) -> tuple[Finding, ...]:
    """The five findings of one level, each with its reason where there is no figure."""
    unit = job.method.unit
    if budget.whole is None:
        return tuple(_missing(job, budget, name) for name in FORMULAS)
    symbols = tuple(s for each in budget.components for s in each.symbols)
    u = _root(budget.components)
    coverage = symbol("k", "k", f"coverage factor, {budget.whole.kind}", budget.whole.k)
    content = symbol("content", "x", "content", budget.x, unit)
    bias = budget.part(*BIAS_PARTS)
    within = budget.part(WITHIN)
    made = [
        _finding(job, budget, "expanded_uncertainty", unit, budget.whole.k, f"{{k}} · {u}", (coverage, *symbols)),
        _finding(job, budget, "expanded_uncertainty_percent", "%", 100 * budget.whole.k / budget.x,
                 f"100 · {{k}} · {u} / {{content}}", (coverage, *symbols, content)),
        _finding(job, budget, "u_combined", unit, 1.0, u, symbols),
        _part(job, budget, "u_within", within),
        _part(job, budget, "u_bias", bias),
    ]  # fmt: skip
    return tuple(made)


def default_finding(settings: UncertaintySettings) -> tuple[Finding, ...]:
    """`default_uncertainty`, only where the protocol names a law, and only under its condition."""
    if settings.default_of_law is None:
        return ()
    from validate.stats.uncertainty import DEFAULT_RULES

    rule = DEFAULT_RULES[settings.default_of_law.law]
    reason = law_problem(settings)
    formula = f"{rule.percent:g} % of the result with k = {rule.k:g}, while {rule.condition}"
    given = settings.default_of_law.rounds
    notes = (f"scores: {given}",) if given else ()
    return (
        Finding(
            name="default_uncertainty",
            level=None,
            value=None if reason is not None else rule.percent,
            unit="%",
            reason=reason,
            formula=formula,
            source=rule.source,
            working=Working(expression="{p}", symbols=(symbol("p", "p", formula, rule.percent, "%"),)),
            notes=notes,
        ),
    )


def _root(components: tuple[Component, ...]) -> str:
    if len(components) == 1:
        return components[0].expression if components[0].expression.count("{") == 1 else f"({components[0].expression})"
    return "√(" + " + ".join(f"({each.expression})^2" for each in components) + ")"


def _finding(
    job: StudyInput,
    budget: LevelBudget,
    name: str,
    unit: str,
    factor: float,
    expression: str,
    symbols: tuple[Symbol, ...],
) -> Finding:
    """`factor` times u; limits and scatter from the effective degrees of freedom, where these are not infinite."""
    u, df = budget.whole.u, budget.df
    finite = not isinf(df) and u > 0
    intervals = []
    for use, level in (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", job.not_met_level)) if finite else ():
        found = sd_limits(u, df, level)
        intervals.append(
            Interval(use=use, level=level, low=factor * found.low, high=factor * found.high,
                     method="chi-square on effective degrees of freedom",
                     working=limits_working(found.rests_on, unit) if use == "shown" else None)  # type: ignore[arg-type]
        )  # fmt: skip
    return Finding(
        name=name,
        level=budget.level,
        value=factor * u,
        unit=unit,
        blocked=budget.blocked,
        intervals=tuple(intervals),
        df=df if finite else None,
        groups=budget.groups,
        formula=FORMULAS[name],
        source=SOURCE,
        working=Working(expression=expression, symbols=symbols),
        sampling=Sampling(kind="scaled_chi", df=df) if finite else None,
        rows=budget.rows,
        notes=_notes(budget) if name == "expanded_uncertainty" else (),
    )


def _part(job: StudyInput, budget: LevelBudget, name: str, parts: tuple[Component, ...]) -> Finding:
    if not parts:
        reason = (
            "the default of a law has no parts" if budget.by_default else "; ".join(budget.blocked) or "not studied"
        )
        return _missing(job, budget, name, reason)
    u = sum(each.u**2 for each in parts) ** 0.5
    return Finding(
        name=name,
        level=budget.level,
        value=u,
        unit=job.method.unit,
        blocked=budget.blocked,
        groups=budget.groups,
        formula=FORMULAS[name],
        source=SOURCE,
        working=Working(expression=_root(parts), symbols=tuple(s for each in parts for s in each.symbols)),
        rows=budget.rows,
    )


def _missing(job: StudyInput, budget: LevelBudget, name: str, reason: str | None = None) -> Finding:
    unit = "%" if name.endswith("percent") else job.method.unit
    why = reason or budget.reason or "no budget"
    return Finding(
        name=name, level=budget.level, value=None, unit=unit, reason=why, formula=FORMULAS[name], source=SOURCE
    )


def _notes(budget: LevelBudget) -> tuple[str, ...]:
    notes = []
    if not budget.by_default and (budget.groups is None or budget.groups < FEWEST_OCCASIONS):
        found = "an unknown number of" if budget.groups is None else str(budget.groups)
        notes.append(f"provisional: the precision rests on {found} days, fewer than {FEWEST_OCCASIONS}")
    if budget.whole.kind.startswith("t"):
        notes.append(f"k = {budget.whole.k:.3g}: {budget.whole.kind}")
    elif not isinf(budget.df) and budget.df < 8:
        notes.append(f"{budget.df:.3g} effective degrees of freedom: k = {budget.whole.k:g} covers less than 95 %")
    return tuple(notes)
