"""Several random factors, crossed (days × analysts) or not, complete or not."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from validate.stats import _reml, mean_squares
from validate.stats._input import group_codes, vector
from validate.stats._sums import centred
from validate.stats.components_one_way import FEW_GROUPS
from validate.stats.intervals import Limits, Term, mls_limits, satterthwaite_df, sd_limits

RESIDUAL = "residual"

Codes = dict[str, NDArray[np.intp]]


@dataclass(frozen=True)
class Crossed:
    """REML components of variance of several random factors.

    `components`: variance by term (`day`, `analyst`, `day × analyst`, `residual`), never
    negative; `levels`: number of levels by term. `mean` is the generalised least squares
    mean with standard error `se_mean`. `df_within` belongs to `s_r` and `df_intermediate`
    to `s_intermediate`. `few_levels` names the factors with fewer than five levels: their
    own component is hardly known. `complete` is True when every combination was measured
    and repeated, so that the limits rest on mean squares (MLS); otherwise they are
    chi-square limits on the large-sample variance of the REML estimates, and tend to be
    too narrow above.
    """

    n: int
    mean: float
    se_mean: float
    components: Mapping[str, float]
    levels: Mapping[str, int]
    s_r: float
    s_intermediate: float
    df_within: float
    complete: bool
    terms: tuple[Term, ...]
    s_r_limits: Limits
    s_intermediate_limits: Limits
    reml_criterion: float
    few_levels: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def df_intermediate(self) -> float:
        """Satterthwaite's degrees of freedom of s_intermediate."""
        return satterthwaite_df(self.terms)


def crossed(
    values: ArrayLike,
    factors: Mapping[str, Iterable[Hashable]],
    *,
    interactions: bool = True,
    level: float = 0.95,
) -> Crossed:
    """Components of variance of random factors by REML; balanced or not, complete or not.

    Each factor and, unless `interactions=False`, each interaction that the design can tell
    from the others is a random term. s_r² is the residual variance,
    s_intermediate² the sum of all components. In a complete balanced design with positive
    estimates REML equals the analysis of variance; a component whose estimate there is
    negative is 0 and what it held is shared among the others.

    `values`: N results of one unit; `factors`: name to N labels. A factor whose labels lie
    inside another's (casks named `A:a`) is a nested one. Raises ValueError for no factor,
    a factor with one level, factors that cannot be told apart (a new analyst each day), no
    repeated results, results that repeat exactly, or more than 1000 levels in all.

    Source: S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992) ch. 6
    (from memory); limits: see `intervals` and `mean_squares.crossed`.

    >>> labels = {"day": [1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3], "analyst": ["A", "A", "B", "B"] * 3}
    >>> found = crossed([10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9, 10.3, 10.6], labels)
    >>> {name: round(variance, 5) for name, variance in found.components.items()}
    {'day': 0.05583, 'analyst': 0.10708, 'day × analyst': 0.02875, 'residual': 0.05}
    """
    y = vector(values, "result", at_least=4)
    codes, few = _main_terms(factors, len(y))
    centre, deviation = centred(y)
    if not np.any(deviation):
        raise ValueError("all results are equal: no variance can be estimated")
    codes |= _interactions(codes, deviation) if interactions else {}
    design = _reml.design(deviation, list(codes.values()))
    ratios, state = _reml.maximise(design)
    residual = state.q / (len(y) - 1)
    components = {name: float(ratio) * residual for name, ratio in zip(codes, ratios, strict=True)}
    components[RESIDUAL] = residual
    covariance = _reml.covariance(design, ratios, state)
    variance = math.fsum(components.values())
    df_within = 2 * residual**2 / float(covariance[-1, -1])
    terms = _mean_square_terms(deviation, {name: codes[name] for name in factors}, len(codes))
    complete = terms is not None
    if terms is None:
        terms = (Term(variance, 2 * variance**2 / float(covariance.sum())),)
    mean, se_mean = _reml.mean_and_error(design, ratios, state)
    s_r = math.sqrt(residual)
    return Crossed(
        n=len(y),
        mean=centre + mean,
        se_mean=se_mean,
        components=components,
        levels={name: int(code.max()) + 1 for name, code in codes.items()},
        s_r=s_r,
        s_intermediate=math.sqrt(variance),
        df_within=df_within,
        complete=complete,
        terms=terms,
        s_r_limits=sd_limits(s_r, df_within, level),
        s_intermediate_limits=mls_limits(terms, level),
        reml_criterion=_deviance(state.criterion, design),
        few_levels=few,
        notes=_notes(codes, components, few, complete),
    )


def _main_terms(factors: Mapping[str, Iterable[Hashable]], n: int) -> tuple[Codes, tuple[str, ...]]:
    if not factors:
        raise ValueError("no factor found, at least 1 needed")
    codes = {name: group_codes(labels, n, f"'{name}'")[0] for name, labels in factors.items()}
    levels = {name: int(code.max()) + 1 for name, code in codes.items()}
    for name, found in levels.items():
        if found < 2:
            raise ValueError(f"1 level found in factor '{name}', at least 2 needed")
    if _reml.dependent(_reml.design(np.zeros(n), list(codes.values()))):
        raise ValueError(
            f"the factors {', '.join(codes)} and the scatter of repeated results cannot be told apart in this design"
        )
    return codes, tuple(name for name, found in levels.items() if found < FEW_GROUPS)


def _interactions(codes: Codes, deviation: NDArray[np.float64]) -> Codes:
    """Interactions of two and more factors that the design can tell from what is there already."""
    found: Codes = {}
    for size in range(2, len(codes) + 1):
        for names in combinations(codes, size):
            joint = np.zeros(len(deviation), dtype=np.intp)
            for name in names:
                joint = np.unique(joint * (int(codes[name].max()) + 1) + codes[name], return_inverse=True)[1]
            if int(joint.max()) + 1 == len(joint):
                continue
            if not _reml.dependent(_reml.design(deviation, [*codes.values(), *found.values(), joint])):
                found[" × ".join(names)] = joint
    return found


def _mean_square_terms(deviation: NDArray[np.float64], mains: Codes, n_terms: int) -> tuple[Term, ...] | None:
    """Terms of the total variance from mean squares, when every combination was measured and repeated."""
    sizes = [int(code.max()) + 1 for code in mains.values()]
    cell = np.ravel_multi_index(tuple(mains.values()), sizes)
    filled = len(np.unique(cell))
    if n_terms != 2 ** len(mains) - 1 or filled < math.prod(sizes) or len(deviation) <= filled:
        return None
    return tuple(map(Term, *mean_squares.crossed(deviation, mains).sum_parts()))


def _deviance(criterion: float, design: _reml.Design) -> float:
    """−2 log REML with all constants, comparable with general mixed-model software."""
    k = design.n - 1
    return criterion + math.log(design.n) + k * (1 + math.log(2 * math.pi / k))


def _notes(codes: Codes, components: Mapping[str, float], few: tuple[str, ...], complete: bool) -> tuple[str, ...]:
    notes = [f"few levels of {name}; its own component is hardly known" for name in few]
    notes += [f"the variance of {name} is estimated as 0" for name in codes if components[name] == 0]
    if not complete:
        notes.append("the combinations are not complete or not all repeated: limits by Satterthwaite on REML")
    return tuple(notes)
