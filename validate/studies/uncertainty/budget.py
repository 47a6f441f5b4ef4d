"""The uncertainty budget of one level: components with their working, u, k and U."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

from validate.stats.intervals import Term, satterthwaite_df
from validate.stats.uncertainty import Expanded, default_uncertainty, expanded
from validate.studies.contract import StudyInput
from validate.studies.uncertainty.settings import DEFAULT, SEVERAL, UncertaintySettings
from validate.studies.uncertainty.sources import (
    Source,
    bias_at,
    precision_at,
    recovery_at,
    relative_biases,
    settings_of,
)
from validate.vocabulary.finding import Rows, Symbol

WITHIN = "within-laboratory reproducibility"
BIAS, ITS_ERROR = "bias, not corrected", "standard error of the bias"
RMS, REFERENCES = "root mean square of the relative biases", "reference values"
CORRECTION = "mean recovery that results are divided by"
RESOLUTION = "resolution of the reading"
BIAS_PARTS = (BIAS, ITS_ERROR, RMS, REFERENCES, CORRECTION)


@dataclass(frozen=True)
class Component:
    """One standard uncertainty in the method's unit, and how it was found."""

    name: str
    u: float
    df: float
    how: str
    expression: str
    symbols: tuple[Symbol, ...]


@dataclass(frozen=True)
class LevelBudget:
    """u and U of one level; `reason` says why there is none."""

    level: str
    components: tuple[Component, ...] = ()
    whole: Expanded | None = None
    df: float = inf
    groups: int | None = None
    rows: tuple[Rows, ...] = ()
    blocked: tuple[str, ...] = ()
    reason: str | None = None
    by_default: bool = False

    @property
    def x(self) -> float:
        return float(self.level)

    def part(self, *names: str) -> tuple[Component, ...]:
        return tuple(each for each in self.components if each.name in names)


def budget_at(job: StudyInput, level: str) -> LevelBudget:
    """The budget that the protocol asks for: from precision and bias, or the default of a law."""
    settings = settings_of(job)
    if settings.basis == DEFAULT:
        return _by_law(job, level)
    precision = precision_at(job, level)
    if isinstance(precision, str):
        return LevelBudget(level, reason=precision)
    within = Component(WITHIN, precision.value, precision.df, precision.words, "{s_rw}",
                       (symbol("s_rw", "s_Rw", precision.words, precision.value, job.method.unit),))  # fmt: skip
    bias, rows, blocked = _bias_parts(job, level)
    components = (within, *bias, *_resolution(job), *_declared(job, settings, level))
    u = sqrt(sum(each.u**2 for each in components))
    df = satterthwaite_df([Term(each.u**2, each.df) for each in components]) if u > 0 else inf
    lacking = (*precision.blocked, *blocked)
    try:
        whole = expanded(u, df=df) if settings.coverage == "t" else expanded(u, k=settings.k)
    except ValueError as error:
        return LevelBudget(level, components, None, df, precision.groups, reason=str(error))
    return LevelBudget(
        level,
        components,
        whole,
        df,
        precision.groups,
        tuple(dict.fromkeys((*precision.rows, *rows))),
        tuple(dict.fromkeys(lacking)),
    )


def law_problem(settings: UncertaintySettings) -> str | None:
    """Why the default of the law may not be used, or None."""
    declared = settings.default_of_law
    if declared is None:
        return "no law is named"
    from validate.stats.uncertainty import DEFAULT_RULES

    rule = DEFAULT_RULES[declared.law]
    if declared.mean_absolute_z is not None and declared.scored_with_percent != rule.sigma_percent:
        found = "not said" if declared.scored_with_percent is None else f"{declared.scored_with_percent:g} %"
        return f"its condition asks for scores with a standard deviation of {rule.sigma_percent:g} %; here: {found}"
    try:
        default_uncertainty(1.0, rule=declared.law, mean_absolute_z=declared.mean_absolute_z)
    except ValueError as error:
        return str(error)
    return None


def _by_law(job: StudyInput, level: str) -> LevelBudget:
    settings = settings_of(job)
    reason = law_problem(settings)
    if reason is not None:
        return LevelBudget(level, reason=reason, by_default=True)
    declared = settings.default_of_law
    whole = default_uncertainty(float(level), rule=declared.law, mean_absolute_z=declared.mean_absolute_z)
    how = f"{whole.kind} of the content over {whole.k:g}"
    default = Component(how, whole.u, inf, how, "{u}", (symbol("u", "u", how, whole.u, job.method.unit),))
    return LevelBudget(level, (default,), whole, by_default=True)


def _bias_parts(job: StudyInput, level: str) -> tuple[tuple[Component, ...], tuple[Rows, ...], tuple[str, ...]]:
    """Components from bias, their rows, and what forbids a verdict."""
    settings = settings_of(job)
    if settings.corrected_for_recovery:
        found = recovery_at(job, level)
        return _missing(found) if isinstance(found, str) else _of_correction(job, level, found)
    if settings.bias.by == SEVERAL:
        return _of_several(job, level)
    found = bias_at(job, level)
    return _missing(found) if isinstance(found, str) else _of_bias(job, found)


def _missing(reason: str) -> tuple[tuple[Component, ...], tuple[Rows, ...], tuple[str, ...]]:
    return (), (), (f"the bias is not in it: {reason}",)


def _of_bias(job: StudyInput, found: Source) -> tuple[tuple[Component, ...], tuple[Rows, ...], tuple[str, ...]]:
    unit = job.method.unit
    parts = (
        Component(BIAS, abs(found.value), inf, found.words, "{bias}",
                  (symbol("bias", "b", found.words, abs(found.value), unit),)),
        Component(ITS_ERROR, found.u, found.df, f"of {found.words}, reference value included", "{u_mean}",
                  (symbol("u_mean", "u(b̄)", "standard error of the bias, reference value included", found.u, unit),)),
    )  # fmt: skip
    return parts, found.rows, found.blocked


def _of_correction(
    job: StudyInput, level: str, found: Source
) -> tuple[tuple[Component, ...], tuple[Rows, ...], tuple[str, ...]]:
    x = float(level)
    part = Component(
        CORRECTION,
        x * found.u / found.value,
        found.df,
        f"{found.words}: {found.value:.4g} % with standard error {found.u:.3g} %",
        "{x} · {u_recovery} / {recovery}",
        (
            symbol("x", "x", "content", x, job.method.unit),
            symbol("u_recovery", "u(R̄)", "standard error of the mean recovery", found.u, "%"),
            symbol("recovery", "R̄", found.words, found.value, "%"),
        ),
    )
    return (part,), found.rows, found.blocked


def _of_several(job: StudyInput, level: str) -> tuple[tuple[Component, ...], tuple[Rows, ...], tuple[str, ...]]:
    found = relative_biases(job)
    if isinstance(found, str):
        return _missing(found)
    x, unit, u_reference = float(level), job.method.unit, settings_of(job).bias.relative_u_of_reference_percent
    rms = sqrt(sum(bias**2 for _, bias in found) / len(found))
    levels = ", ".join(str(each.finding.level) for each, _ in found)
    parts = (
        Component(RMS, x * rms / 100, len(found), f"{rms:.3g} % over levels {levels}; holds the scatter of the biases",
                  "{x} · {rms} / 100",
                  (symbol("x", "x", "content", x, unit), symbol("rms", "RMS", f"over levels {levels}", rms, "%"))),
        Component(REFERENCES, x * u_reference / 100, inf, f"{u_reference:g} %, as the protocol says",
                  "{x_r} · {u_ref} / 100",
                  (symbol("x_r", "x", "content", x, unit),
                   symbol("u_ref", "u_ref", "reference values", u_reference, "%"))),
    )  # fmt: skip
    rows = tuple(dict.fromkeys(rows for each, _ in found for rows in each.finding.rows))
    return parts, rows, tuple(dict.fromkeys(why for each, _ in found for why in each.finding.blocked))


def _resolution(job: StudyInput) -> tuple[Component, ...]:
    step = job.method.resolution
    if step is None:
        return ()
    how = f"step {step:g} {job.method.unit} over √12"
    return (Component(RESOLUTION, step / sqrt(12), inf, how, "{step} / √(12)",
                      (symbol("step", "step", "resolution of the reading", step, job.method.unit),)),)  # fmt: skip


def _declared(job: StudyInput, settings: UncertaintySettings, level: str) -> tuple[Component, ...]:
    made = []
    for number, each in enumerate(settings.contributions, start=1):
        u, x = each.relative_u_percent, float(level)
        expression = f"{{x_{number}}} · {{u_{number}}} / 100"
        symbols = (
            symbol(f"x_{number}", "x", "content", x, job.method.unit),
            symbol(f"u_{number}", f"u_{number}", each.name, u, "%"),
        )
        made.append(Component(each.name, x * u / 100, inf, f"{u:g} %: {each.origin}", expression, symbols))
    return tuple(made)


def symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)
