"""Pictures: U by level, and the risk against the result."""

from __future__ import annotations

from validate.stats.uncertainty import risk_curve
from validate.studies.contract import StudyInput
from validate.studies.uncertainty.budget import LevelBudget
from validate.studies.uncertainty.deciding import decide
from validate.studies.uncertainty.sources import settings_of
from validate.vocabulary.finding import Finding
from validate.vocabulary.plot import Axis, Line, Plot, Rule, Whiskers


def pictures(job: StudyInput, findings: tuple[Finding, ...], at_limit: LevelBudget | str) -> tuple[Plot, ...]:
    """Those of the pictures for which there are figures."""
    made = (_by_level(job, findings), None if isinstance(at_limit, str) else _risk(job, at_limit))
    return tuple(plot for plot in made if plot is not None)


def _by_level(job: StudyInput, findings: tuple[Finding, ...]) -> Plot | None:
    shown = [f for f in findings if f.name == "expanded_uncertainty_percent" and f.value is not None]
    if len(shown) < 2:
        return None
    limits = [f.interval("shown") for f in shown]
    spoken = "; ".join(f"{f.value:.3g} % at {f.level}" for f in shown)
    return Plot(
        name="uncertainty_by_level",
        title="Expanded uncertainty by level",
        sentence="In percent of the content U is largest at low contents, where its absolute part counts; "
        "the whiskers say how well U itself is known.",
        description=f"Expanded uncertainty in percent of the content: {spoken} {job.method.unit}.",
        x=Axis(label=f"content ({job.method.unit})", categories=tuple(str(f.level) for f in shown)),
        y=Axis(label="U (% of the content)", low=0.0),
        layers=(
            Whiskers(
                x=tuple(float(i) for i in range(1, len(shown) + 1)),
                y=tuple(f.value for f in shown),
                low=tuple(None if i is None else i.low for i in limits),
                high=tuple(None if i is None else i.high for i in limits),
                label="U, 95 % limits",
            ),
        ),
        criterion_of="expanded_uncertainty_percent",
    )


def _risk(job: StudyInput, budget: LevelBudget) -> Plot | None:
    limit, unit, rule = job.method.limit, job.method.unit, settings_of(job).rule
    if budget.whole.U == 0:
        return None
    curve = risk_curve(limit, budget.whole.U, rule=rule, k=budget.whole.k, df=budget.df)
    at = decide(job, budget, curve.acceptance_limit, rule)
    layers = [
        Line(x=curve.results, y=tuple(100 * p for p in curve.probability_above), label="content above the limit",
             accent=True),
        Rule(at=limit, axis="x", label="limit", style="solid"),
    ]  # fmt: skip
    if rule != "simple":
        layers.append(Rule(at=curve.acceptance_limit, axis="x", label="acceptance limit"))
    return Plot(
        name="risk",
        title="Risk against the result",
        sentence=f"The chance that the content is above the limit, for every result; by the rule '{rule}' results up "
        "to the acceptance limit are accepted.",
        description=f"The chance rises from near 0 to near 100 %; it is 50 % at the limit of {limit:g} {unit} and "
        f"{100 * at.probability_above:.3g} % at the acceptance limit of {curve.acceptance_limit:.4g} {unit}.",
        x=Axis(label=f"result ({unit})"),
        y=Axis(label="chance that the content is above the limit (%)", low=0.0, high=100.0),
        layers=tuple(layers),
    )
