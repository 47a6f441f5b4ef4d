"""Binary results: the probability of detection across laboratories, its components, tables and picture."""

from __future__ import annotations

import numpy as np

from validate.stats.interlaboratory import ProbabilityAcrossLaboratories, detection_across_laboratories
from validate.stats.intervals import Limits
from validate.studies.collaborative_trial.context import APPENDIX_J, Context, interval
from validate.studies.collaborative_trial.kinds import OF_COUNTS
from validate.studies.collaborative_trial.words import counted as counted_words
from validate.vocabulary.evaluation import Remark, ResultTable, TableColumn
from validate.vocabulary.finding import Finding, Interval, Symbol, Working
from validate.vocabulary.plot import Axis, Plot, Points, Whiskers

BESIDE = 0.4
"""Width of the place left of a level over which its laboratories are spread."""
Found = dict[str, ProbabilityAcrossLaboratories]


def counted(context: Context) -> ProbabilityAcrossLaboratories:
    """LPOD of one level; ValueError says why there is none."""
    labels, positive, total = context.data.counts()
    if positive.size < 2:
        raise ValueError(f"{counted_words(positive.size, 'laboratory')} with results, at least 2 are needed")
    single = [lab for lab, n in zip(labels, total.tolist(), strict=True) if n < 2]
    if single:
        raise ValueError(f"one result only of laboratory {', '.join(single)}: the scatter within it is not known")
    return detection_across_laboratories(positive, total)


def level_findings(context: Context, found: ProbabilityAcrossLaboratories) -> tuple[Finding, ...]:
    """LPOD and the standard deviations of a single result coded 0 or 1."""
    common = {"n": found.n, "groups": found.n_laboratories, "source": APPENDIX_J}
    v_r = _symbol("v_r", "s_r²", "Σn·p·(1 − p)/Σ(n − 1) of the laboratories", found.s_r**2)
    v_l = _symbol("v_l", "s_L²", "variance between laboratories, as estimated", found.variance_L_raw)
    texts = {
        "pod_s_r": ("√({v_r})", (v_r,), found.s_r, found.s_r_limits),
        "pod_s_L": ("√(max(0, {v_l}))", (v_l,), found.s_L, found.s_L_limits),
        "pod_s_R": ("√({v_r} + max(0, {v_l}))", (v_r, v_l), found.s_R, found.s_R_limits),
    }
    lpod = context.finding(
        "lpod",
        found.lpod,
        intervals=context.three(lambda use, level: _lpod_interval(context, use, level)),
        formula="Σ detections / Σ results",
        working=Working(
            expression="{x} / {n}",
            symbols=(
                _symbol("x", "x", "detections", float(found.detected)),
                _symbol("n", "N", "results", float(found.n)),
            ),
        ),
        **common,
    )
    spreads = tuple(
        context.finding(
            name,
            value,
            intervals=() if limits is None else (interval("shown", limits.low, limits.high, 0.95, limits.method),),
            formula=_printed(expression, symbols),
            working=Working(expression=expression, symbols=symbols),
            notes=_negative(found) if name == "pod_s_L" else (),
            **common,
        )
        for name, (expression, symbols, value, limits) in texts.items()
    )
    return (lpod, *spreads)


def _lpod_interval(context: Context, use: str, level: float) -> Interval:
    _, positive, total = context.data.counts()
    limits: Limits = detection_across_laboratories(positive, total, level=level).lpod_limits
    return interval(use, limits.low, limits.high, level, limits.method)


def _symbol(name: str, printed: str, meaning: str, value: float) -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit="")


def _printed(expression: str, symbols: tuple[Symbol, ...]) -> str:
    for symbol in symbols:
        expression = expression.replace(f"{{{symbol.name}}}", symbol.printed)
    return expression


def _negative(found: ProbabilityAcrossLaboratories) -> tuple[str, ...]:
    return ("laboratories differ no more than chance explains: counted as 0",) if found.variance_L_raw < 0 else ()


def remarks(context: Context, found: ProbabilityAcrossLaboratories) -> tuple[Remark, ...]:
    """That the limits of LPOD do not know of laboratories that differ."""
    if not found.too_narrow:
        return ()
    text = (
        f"laboratories differ by more than chance (χ², p = {found.p_value:.2g}), and outside 0.15 to 0.85 the limits "
        "of LPOD take all results for those of one laboratory: they are too narrow"
    )
    return (Remark(kind="warning", text=text, level=context.level),)


def missing(context: Context, reason: str) -> tuple[Finding, ...]:
    return tuple(
        context.finding(name, None, reason=reason, formula="detections by laboratory", source=APPENDIX_J)
        for name in OF_COUNTS
    )


def tables(contexts: tuple[Context, ...], found: Found) -> tuple[ResultTable, ...]:
    """One line for each level, and the proportions of the laboratories."""
    by_level = ResultTable(
        name="by_level",
        title="Probability of detection by level",
        columns=(
            TableColumn(title="level", kind="text"),
            *(
                TableColumn(title=t)
                for t in (
                    "laboratories", "x", "N", "LPOD", "s_POD", "s_r", "s_L", "s_R", "χ²", "p, one probability fits all"
                )
            ),
        ),
        rows=tuple(
            (level, float(f.n_laboratories), float(f.detected), float(f.n), f.lpod, f.s_pod, f.s_r, f.s_L, f.s_R,
             f.chi2, f.p_value)
            for level, f in found.items()
        ),
        note="A single result is 1 (detected) or 0. Limits of s_R follow from those of LPOD, those of s_r from both "
        "and are wide; all limits of standard deviations are for information. A large p proves nothing.",
    )  # fmt: skip
    rows = []
    for context in contexts:
        if context.level in found:
            labels, positive, total = context.data.counts()
            rows += [
                (context.level, lab, x, n, x / n)
                for lab, x, n in zip(labels, positive.tolist(), total.tolist(), strict=True)
            ]
    laboratories = ResultTable(
        name="laboratories",
        title="Laboratories",
        columns=(
            TableColumn(title="level", kind="text"),
            TableColumn(title="laboratory", kind="text"),
            *(TableColumn(title=t) for t in ("detected", "results", "POD")),
        ),
        rows=tuple(rows),
    )
    return (by_level, laboratories)


def plots(contexts: tuple[Context, ...], found: Found) -> tuple[Plot, ...]:
    """LPOD with its limits against the level, and the proportions of the laboratories."""
    if not found:
        return ()
    levels = tuple(found)
    places = np.arange(1, len(levels) + 1, dtype=float)
    # Beside the whiskers, one after the other: equal proportions would hide each other and LPOD.
    x = tuple(
        float(places[levels.index(c.level)]) - BESIDE + BESIDE * i / len(found[c.level].pod)
        for c in contexts
        if c.level in found
        for i in range(len(found[c.level].pod))
    )
    y = tuple(p for c in contexts if c.level in found for p in found[c.level].pod)
    each = tuple(found.values())
    plot = Plot(
        name="lpod",
        title="Probability of detection by level",
        sentence="Dots are laboratories, in their order beside each level; the whiskers are the 95 % limits of the "
        "probability across laboratories.",
        description="; ".join(f"level {level}: LPOD {f.lpod:.3g}" for level, f in found.items()),
        x=Axis(label="declared level", categories=levels),
        y=Axis(label="probability of detection", low=0.0, high=1.05),
        layers=(
            Points(x=x, y=y, label="a laboratory"),
            Whiskers(
                x=tuple(places.tolist()),
                y=tuple(f.lpod for f in each),
                low=tuple(f.lpod_limits.low for f in each),
                high=tuple(f.lpod_limits.high for f in each),
                label="LPOD",
            ),
        ),
    )
    return (plot,)
