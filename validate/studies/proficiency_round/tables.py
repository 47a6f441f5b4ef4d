"""Tables of a round: how the targets were set, all scores, method groups, what is suspected."""

from __future__ import annotations

import numpy as np

from validate.studies.proficiency_round.assigning import Scale
from validate.studies.proficiency_round.findings import SIGMA_WORDS, how_assigned
from validate.studies.proficiency_round.scoring import SIGNAL_WORDS, Scores, censored_word, counts
from validate.studies.proficiency_round.submitted import Submitted
from validate.studies.proficiency_round.suspicions import MethodGroup, Suspicion
from validate.vocabulary.evaluation import ResultTable, TableColumn

SCORES = "scores"
SIGNS = {-1: "", 0: "", 1: " !", 2: " !!"}
MOST_TARGETS_ACROSS = 8


def _text(*titles: str) -> list[TableColumn]:
    return [TableColumn(title=title, kind="text") for title in titles]


def _numbers(*titles: str) -> list[TableColumn]:
    return [TableColumn(title=title) for title in titles]


def target_table(sent: Submitted, scales: tuple[Scale, ...], scores: Scores) -> ResultTable:
    """One line for each target: value, scale, and how the laboratories did."""
    rows = []
    for i, scale in enumerate(scales):
        chosen = scale.chosen
        rows.append(
            (
                scale.target.label,
                scale.target.unit,
                chosen.value,
                chosen.u,
                scale.sigma,
                scale.ratio,
                f"{how_assigned(chosen, None)}; {SIGMA_WORDS[scale.target.sigma_pt.by]}",
                int(np.count_nonzero(~np.isnan(sent.results[i]))),
                len(sent.censored_of(i)),
                *counts(scores, i),
            )
        )
    return ResultTable(
        name="targets",
        title="Assigned values, scales and outcome",
        columns=(
            *_text("target", "unit"),
            *_numbers("x_pt", "u(x_pt)", "σ_pt", "u/σ_pt"),
            *_text("set by"),
            *_numbers("results", "without a number", "acceptable", "warning", "action"),
        ),
        rows=tuple(rows),
        note="acceptable: |score| ≤ 2; warning signal: between 2 and 3; action signal: |score| ≥ 3; not rounded before",
    )


def side_by_side(scales: tuple[Scale, ...]) -> ResultTable:
    """Every assigned value that could be computed, for each target."""
    rows = [
        (
            scale.target.label,
            candidate.by + (" (used)" if candidate is scale.chosen or _same(candidate, scale) else ""),
            candidate.value,
            candidate.u,
            candidate.sd,
            candidate.n,
            candidate.reason,
        )
        for scale in scales
        for candidate in scale.candidates
    ]
    return ResultTable(
        name="side-by-side",
        title="Assigned values side by side; the protocol said beforehand which is used",
        columns=(*_text("target", "by"), *_numbers("value", "u", "spread", "n"), *_text("why not")),
        rows=tuple(rows),
    )


def _same(candidate: object, scale: Scale) -> bool:
    return getattr(candidate, "by", "") == scale.chosen.by


def score_table(sent: Submitted, scales: tuple[Scale, ...], scores: Scores) -> ResultTable:
    """Every result with all its scores: what the coded report and a participant's page are made from."""
    rows: list[tuple[str | float | None, ...]] = []
    for i, scale in enumerate(scales):
        marks = sent.censored_of(i)
        columns = [
            _optional(array[i])
            for array in (
                sent.results,
                sent.U,
                scores.D,
                scores.D_percent,
                scores.z,
                scores.z_prime,
                scores.zeta,
                scores.e_n,
            )
        ]
        k = np.where(np.isnan(sent.U[i]), np.nan, sent.k[i])
        for lab, (values, own_k) in enumerate(zip(zip(*columns, strict=True), _optional(k), strict=True)):
            mark = marks.get(lab)
            if values[0] is None and mark is None:
                continue
            shown = values[0] if mark is None else mark.text
            signal = SIGNAL_WORDS[int(scores.signal[i, lab])] or (
                scale.refused or "not scored" if mark is None else censored_word(mark.limit, mark.side, scale)
            )
            rows.append(
                (
                    sent.laboratories[lab],
                    scale.target.label,
                    str(sent.methods[i, lab]),
                    shown,
                    values[1],
                    own_k,
                    *values[2:],
                    signal,
                )
            )
    return ResultTable(
        name=SCORES,
        title="Results and scores",
        columns=(
            *_text("laboratory", "target", "method"),
            *_numbers("result", "U", "k", "D", "D %", "z", "z′", "ζ", "E_n"),
            *_text("outcome"),
        ),
        rows=tuple(rows),
        note="z is this many times the SD that the scheme allows; U as reported, k = 2 where none was given; "
        "results without a number: an own proposal, no standard scores them",
    )


def _optional(values: np.ndarray) -> list[float | None]:
    return [None if v != v else v for v in values.tolist()]


def overview(sent: Submitted, scales: tuple[Scale, ...], scores: Scores) -> tuple[ResultTable, ...]:
    """Laboratories down, targets across, eight at a time: the classifying score and a sign for its signal."""
    found = []
    for start in range(0, len(scales), MOST_TARGETS_ACROSS):
        part = range(start, min(len(scales), start + MOST_TARGETS_ACROSS))
        rows = [
            (code, *(_cell(scores, i, lab, sent, scales[i]) for i in part))
            for lab, code in enumerate(sent.laboratories)
        ]
        found.append(
            ResultTable(
                name=f"overview-{start // MOST_TARGETS_ACROSS + 1}",
                title="Scores by laboratory",
                columns=(
                    *_text("laboratory"),
                    *(TableColumn(title=f"{scales[i].target.label} ({scores.classifying[i]})") for i in part),
                ),
                rows=tuple(rows),
                note="! warning signal, !! action signal; printed with two decimals, classified unrounded",
            )
        )
    return tuple(found)


def _cell(scores: Scores, i: int, lab: int, sent: Submitted, scale: Scale) -> str:
    value = scores.deciding(i)[lab]
    if value == value:
        return f"{value:.2f}".replace("-", "−") + SIGNS[int(scores.signal[i, lab])]
    mark = sent.censored.get((i, lab))
    return censored_word(mark.limit, mark.side, scale) if mark else ""


def method_table(groups: tuple[MethodGroup, ...]) -> ResultTable | None:
    """Summary by method group."""
    if not groups:
        return None
    rows = tuple(
        (g.target, g.method, g.n, g.mean, g.sd, g.difference, g.u, "differs" if g.differs else "") for g in groups
    )
    return ResultTable(
        name="methods",
        title="By method, as the laboratories named it",
        columns=(*_text("target", "method"), *_numbers("n", "robust mean", "s*", "difference", "u of it"), *_text("")),
        rows=rows,
        note="difference: group minus all others; told when it exceeds 2.58 times its uncertainty (1 %). "
        "Median without a test in groups of fewer than 5",
    )


def suspicion_table(name: str, title: str, found: tuple[Suspicion, ...]) -> ResultTable | None:
    if not found:
        return None
    return ResultTable(
        name=name,
        title=title,
        columns=tuple(_text("laboratory", "target", "suspicion")),
        rows=tuple((s.laboratory, s.target, s.text) for s in found),
        note="A suspicion is a question to the laboratory; no result was changed or left out for it",
    )


def comment_table(sent: Submitted) -> ResultTable | None:
    if not sent.comments:
        return None
    return ResultTable(
        name="comments",
        title="Comments of the laboratories",
        columns=tuple(_text("laboratory", "comment")),
        rows=sent.comments,
    )
