"""Seal and reissue in words: what was declared when, what changed after, what a declared date proves."""

from __future__ import annotations

from collections.abc import Iterable

from validate.dossier import numbers
from validate.dossier.seal_context import ReissuedRow, ReissueView, SealChangeRow, SealView
from validate.dossier.words import Words, finding_anchor, kind_of
from validate.vocabulary.evaluation import Evaluation, StudyEvaluation
from validate.vocabulary.reissue import Reissue, ReissuedFigure
from validate.vocabulary.seal import Order, Seal, SealedChange

NOT_SEALED = (
    "Not sealed: nothing here shows that design and criteria were written before the results were seen. "
    "A protocol is sealed with `validate seal` before measuring."
)
ORDERS: dict[Order, str] = {
    "before": "Declared before the first measurement of the run log",
    "same day": "Declared on the day of the first measurement of the run log: which came first is not shown",
    "after": "Declared after the first measurement of the run log: the seal does not show that the criteria came first",
    "no run log": "Declared; the protocol has no run log with times, so nothing says when measuring began",
}
WORTH = (
    "A declared date proves nothing by itself: whoever holds the files can write another. What proves it is the code "
    "where others see it: in a bound notebook, in a mail, in a file kept elsewhere. The code is made of every sealed "
    "part, so a code noted then and equal to this one shows that design and criteria have not changed since."
)


def seal_sentences(seal: Seal | None) -> tuple[str, ...]:
    """The first words of the part on the seal."""
    if seal is None:
        return (NOT_SEALED.replace("`", ""),)
    order = f"{ORDERS[seal.order]} ({seal.on}"
    order += f"; first measurement {seal.first_measurement})." if seal.first_measurement else ")."
    return order, _changes_sentence(seal), WORTH


def _changes_sentence(seal: Seal) -> str:
    if not seal.revisions and not seal.unrevised:
        return "Design and criteria are as they were sealed."
    told = []
    if seal.revisions:
        after = sum(revision.order == "after" for revision in seal.revisions)
        when = f", {after} after the first measurement" if after else ""
        told.append(f"Changed since with a reason: {_count(len(seal.revisions), 'revision')}{when}.")
    if seal.unrevised:
        told.append(f"Changed since without a recorded reason: {_count(len(seal.unrevised), 'part')}.")
    return " ".join(told)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def seal_view(seal: Seal | None) -> SealView | None:
    if seal is None:
        return None
    facts = [
        ("Code", seal.code),
        ("Hash", f"SHA-256 {seal.hash}"),
        ("Declared", f"{seal.on} by {seal.by}"),
        ("Sealed parts", ", ".join(part.replace("_", " ") for part in seal.parts)),
        ("File", seal.file),
    ]
    if seal.time is not None:
        time = seal.time
        facts.append(
            (
                "Trusted time",
                f"{time.time} by {time.authority}, on the state with the code {time.stamped} ({time.file}; RFC 3161, "
                "signature verified; whether this authority deserves trust is for the reader: SHA-256 of its "
                f"certificate {time.certificate_sha256})",
            )
        )
    rows = []
    for number, revision in enumerate(seal.revisions, start=1):
        when = f"{revision.on} by {revision.by}"
        when += {"after": ", after the first measurement", "same day": ", on the day of the first measurement"}.get(
            revision.order, ""
        )
        rows += _rows(str(number), revision.changes, f"{revision.reason} Code {revision.code}.", when)
    rows += _rows(numbers.EN_DASH, seal.unrevised, "no reason recorded", "after the last seal or revision")
    return SealView(facts=tuple(facts), changes=tuple(rows))


def _rows(number: str, changes: Iterable[SealedChange], reason: str, when: str) -> list[SealChangeRow]:
    return [
        SealChangeRow(
            number=number,
            part=change.part.replace(" / ", " › "),
            before=change.before or "absent",
            after=change.after or "absent",
            reason=reason,
            when=when,
        )
        for change in changes
    ]


def reissue_view(evaluation: Evaluation, words: Words) -> ReissueView | None:
    reissue = evaluation.reissue
    if reissue is None:
        return None
    studies = {study.name: study for study in evaluation.studies}
    return ReissueView(
        sentence=_reissue_sentence(reissue),
        figures=tuple(_reissued_row(item, studies, words) for item in reissue.figures),
        files=tuple(f"{item.name}: {item.change}" for item in reissue.files),
    )


def _reissue_sentence(reissue: Reissue) -> str:
    told = f"This dossier supersedes {reissue.title}"
    told += f", made with {reissue.software}" if reissue.software else ""
    told += f" (evaluation.json with SHA-256 {reissue.evaluation_sha256})" if reissue.evaluation_sha256 else ""
    told += "."
    if reissue.reason:
        told += f" Reason: {reissue.reason}"
        told += "" if reissue.reason.endswith(".") else "."
    if not reissue.evaluation_sha256:
        return told
    if not reissue.figures:
        return f"{told} All {reissue.compared} findings that both have are the same, and so are their verdicts."
    return f"{told} Of the {reissue.compared} findings that both have, and those that only one has, these differ:"


def _reissued_row(item: ReissuedFigure, studies: dict[str, StudyEvaluation], words: Words) -> ReissuedRow:
    study = studies.get(item.study)
    declared = study is not None and any(kind.name == item.finding for kind in study.kinds_of_finding)
    present = study is not None and study.as_reported.finding(item.finding, item.level) is not None
    return ReissuedRow(
        finding=kind_of(study, item.finding).title if declared else item.finding,
        study=study.title if study else item.study,
        anchor=finding_anchor(item.study, item.finding, item.level) if present else "",
        level=words.level(item.level),
        before=_figure(item.before, item.unit),
        after=_figure(item.after, item.unit),
        verdict_before=item.verdict_before or numbers.EN_DASH,
        verdict_after=item.verdict_after or numbers.EN_DASH,
    )


def _figure(value: float | None, unit: str) -> str:
    return numbers.EN_DASH if value is None else numbers.with_unit(numbers.significant(value), unit)
