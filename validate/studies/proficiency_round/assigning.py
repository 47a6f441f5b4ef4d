"""x_pt and σ_pt of every target: the declared ones, and everything else that can be computed beside them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np

from validate.stats import horwitz, proficiency, robust
from validate.studies.contract import NeededFinding, StudyInput
from validate.studies.proficiency_round.designing import FEWEST_ROBUST_SD
from validate.studies.proficiency_round.material import effect_of
from validate.studies.proficiency_round.settings import EXPERTS, STATED, Consensus, MaterialSettings
from validate.studies.proficiency_round.submitted import BELOW, Submitted
from validate.studies.proficiency_round.targets import Target
from validate.vocabulary.quantity import mass_fraction_per_unit

CONSENSUS: tuple[str, ...] = get_args(Consensus)
MANY_LABORATORIES = 500
"""Beyond this number the bootstrap of modes draws fewer sets."""
NEAR = 20.0
"""Results more than this many σ_pt from the median have no say in the modes: blunders stand elsewhere."""


@dataclass(frozen=True)
class Assigned:
    """One way to set x_pt; `value` None where it cannot be computed, with the `reason`."""

    by: str
    value: float | None
    u: float | None
    n: int | None
    sd: float | None
    reason: str = ""
    formula: str = ""


@dataclass(frozen=True)
class Scale:
    """What one target is scored with. Everything is in the unit of the target."""

    target: Target
    candidates: tuple[Assigned, ...]
    chosen: Assigned
    fallback: bool
    sigma: float | None
    sigma_reason: str
    star: robust.Robust | None
    modes: proficiency.Modes | None
    widened_by: float = 0.0
    """s_sam that σ_pt was widened by."""
    carried: tuple[float, float] = (0.0, 0.0)
    """u_hom and u_stab in u(x_pt)."""
    refused: str = ""
    """Why no score is given although there are x_pt and σ_pt."""
    told: tuple[str, ...] = ()
    """What the study of the material asks for, in sentences."""

    @property
    def consensus(self) -> bool:
        return self.chosen.by in CONSENSUS

    @property
    def ratio(self) -> float | None:
        """u(x_pt)/σ_pt."""
        return None if self.sigma is None or self.chosen.u is None else self.chosen.u / self.sigma

    @property
    def scored(self) -> bool:
        return self.chosen.value is not None and self.sigma is not None and not self.refused


def scales_of(job: StudyInput, sent: Submitted) -> tuple[Scale, ...]:
    """The scale of every target of the round."""
    star = robust.algorithm_a(np.sort(sent.results, axis=1)) if sent.laboratories else None
    return tuple(_scale(job, sent, i, _row(star, i, sent)) for i in range(len(sent.targets)))


def _row(star: robust.RobustRows | None, i: int, sent: Submitted) -> robust.Robust | None:
    """Algorithm A of one target from those of all, worked out together."""
    if star is None or (star.reason[i] and not star.degenerate[i]):
        return None
    sd = None if star.degenerate[i] else float(star.sd[i])
    return robust.Robust(
        float(star.mean[i]), sd, int(star.n[i]), int(star.iterations[i]), bool(star.degenerate[i]), star.reason[i]
    )


def _scale(job: StudyInput, sent: Submitted, i: int, star: robust.Robust | None) -> Scale:
    settings, target = job.settings, sent.targets[i]
    values = sent.numbers(i)
    below = sum(mark.side == BELOW for mark in sent.censored_of(i).values())
    first = [declared_value(target), *(_consensus(by, values, below) for by in CONSENSUS if by != "kernel mode")]
    centre = next((c.value for c in first if c.value is not None), None)
    sigma, reason = sigma_of(target, centre, star)
    modes, mode_reason = _modes(values, sigma, settings.seed)
    mode = _kernel_mode(values, below, modes, mode_reason)
    candidates = tuple(c for c in (*first, mode) if c.by in CONSENSUS or c.by == target.assigned_value.by)
    chosen, fallback = _choose(target, candidates)
    if chosen.value != centre:
        sigma, reason = sigma_of(target, chosen.value, star)
    scale = Scale(target, candidates, chosen, fallback, sigma, reason, star, modes)
    material = next((m for m in settings.materials if target.sample in m.samples), None)
    return scale if material is None else _with_material(scale, material, job.needed)


def declared_value(target: Target) -> Assigned:
    """x_pt as stated or from the experts; a consensus is made elsewhere."""
    declared = target.assigned_value
    if declared.by == EXPERTS and declared.results:
        found = proficiency.assigned_value(declared.results, by="mean")
        return Assigned(EXPERTS, found.value, found.u, found.n, found.sd, formula=found.formula)
    if declared.by in STATED or declared.by == EXPERTS:
        return Assigned(declared.by, declared.value, declared.u, None, None)
    return Assigned("", None, None, None, None)


def _consensus(by: str, values: np.ndarray, below: int) -> Assigned:
    try:
        found = proficiency.assigned_value(values, by=by, censored_low=below)  # type: ignore[arg-type]
    except ValueError as refused:
        return Assigned(by, None, None, len(values), None, str(refused))
    return Assigned(by, found.value, found.u, found.n, found.sd, formula=found.formula)


def _modes(values: np.ndarray, sigma: float | None, seed: int) -> tuple[proficiency.Modes | None, str]:
    if sigma is None:
        return None, "σ_pt, which gives its bandwidth, is not known"
    if len(values) < 2:
        return None, f"{len(values)} results found, at least 2 needed"
    sets = 1000 if len(values) <= MANY_LABORATORIES else 200
    near = values[np.abs(values - np.median(values)) <= NEAR * sigma]
    return proficiency.consensus_modes(near if len(near) > 1 else values, sigma, seed=seed, resamples=sets), ""


def _kernel_mode(values: np.ndarray, below: int, modes: proficiency.Modes | None, reason: str) -> Assigned:
    by = "kernel mode"
    if modes is None:
        return Assigned(by, None, None, len(values), None, reason)
    if len(values) < proficiency.FEWEST or below >= 0.05 * (len(values) + below):
        reason = "fewer than 5 results, or 5 % and more of them below a limit"
        return Assigned(by, None, None, len(values), None, reason)
    highest = modes.modes[0]
    return Assigned(by, highest.location, highest.se_location, len(values), None, formula="SD over resamples")


def _choose(target: Target, candidates: tuple[Assigned, ...]) -> tuple[Assigned, bool]:
    """The declared one, or the first declared fallback that can be computed."""
    by_name = {candidate.by: candidate for candidate in candidates}
    declared = by_name[target.assigned_value.by]
    if declared.value is not None:
        return declared, False
    for name in target.assigned_value.fallbacks:
        if by_name[name].value is not None:
            return by_name[name], True
    return declared, False


def sigma_of(target: Target, centre: float | None, star: robust.Robust | None) -> tuple[float | None, str]:
    """σ_pt in the unit of the target, or None and why."""
    declared = target.sigma_pt
    if declared.by == "precision experiment":
        n = declared.replicates
        return math.sqrt(declared.s_R**2 - declared.s_r**2 * (1 - 1 / n)), ""
    if declared.by == "this round":
        if star is None or star.sd is None:
            return None, star.reason if star else "too few results for a robust standard deviation"
        if star.n < FEWEST_ROBUST_SD:
            return None, f"{star.n} laboratories: s* of fewer than {FEWEST_ROBUST_SD} is no σ_pt"
        return star.sd, ""
    if declared.value is not None:
        return declared.value, ""
    if centre is None:
        return None, "it depends on the assigned value, which is not known"
    if declared.percent is not None:
        return declared.percent / 100 * centre, ""
    fraction = mass_fraction_per_unit(target.unit)
    if fraction is None:
        return None, f"{target.unit} is no mass fraction: {declared.by} does not apply"
    try:
        return declared.factor * horwitz.predicted_sd(centre * fraction, model=declared.by) / fraction, ""
    except ValueError as refused:
        return None, str(refused)


def _with_material(scale: Scale, material: MaterialSettings, needed: tuple[NeededFinding, ...]) -> Scale:
    """The scale after what the study of the material asks for."""
    if scale.sigma is None or scale.chosen.value is None:
        return scale
    effect = effect_of(material, needed, scale.sigma, scale.target.unit)
    scale = replace(scale, refused=effect.refused, carried=effect.carried, told=effect.told)
    if effect.widened_by:
        return replace(scale, sigma=math.hypot(scale.sigma, effect.widened_by), widened_by=effect.widened_by)
    if any(effect.carried):
        return replace(scale, chosen=replace(scale.chosen, u=math.hypot(scale.chosen.u or 0.0, *effect.carried)))
    return scale
