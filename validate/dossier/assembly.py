"""Evaluation and input bytes → `Page`: everything the page template prints, as text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

from markupsafe import Markup

from validate.dossier import numbers
from validate.dossier.context import (
    ChangedFigure,
    Heading,
    InputLine,
    Page,
    Pair,
    RequirementGroup,
    StudySection,
    Treatment,
    VerdictCount,
)
from validate.dossier.declared import (
    MATERIALS,
    ORIGIN_MARKS,
    identification,
    identification_line,
    materials,
    metadata,
    method,
    pairs,
    signatures,
)
from validate.dossier.listing import listings
from validate.dossier.portion import portion_view
from validate.dossier.readiness import readiness_view, row_spans
from validate.dossier.seal import reissue_view, seal_sentences, seal_view
from validate.dossier.self_check_words import failure_sentence, summary_sentences
from validate.dossier.words import (
    VERDICT_WORDS,
    Words,
    anchor_text,
    finding_anchor,
    is_treated,
    kind_of,
    slug,
    study_anchor,
)
from validate.vocabulary.evaluation import Amendment, Evaluation, Exclusion, InputFile, StudyEvaluation
from validate.vocabulary.finding import finding_id, inside_sentence
from validate.vocabulary.verdict import Verdict

UNCERTAINTY = "expanded_uncertainty"
"""Name of the finding that is the uncertainty of a result."""
CONTENTS = (
    ("1", "Conclusion and identification", "conclusion"),
    ("2", "Requirements and verdicts", "requirements"),
    ("3", "Seal, amendments, exclusions", "seal"),
    ("4", "Readiness", "readiness"),
    ("5", "Studies", "studies"),
    ("6", "Working", "working"),
    ("7", "Uncertainty, limits of use, cautions", "uncertainty"),
    ("8", "Data, materials, software, signatures", "raw-data"),
)


def assemble(evaluation: Evaluation, inputs: Mapping[str, bytes], words: Words, bodies: Mapping[str, Markup]) -> Page:
    """The page context. `bodies` maps the name of a study with findings to its rendered section."""
    protocol = evaluation.protocol
    origin = protocol.get("origin", {})
    return Page(
        title=str(protocol.get("title", protocol.get("id", ""))),
        metadata=metadata(protocol, evaluation.software),
        identification_line=identification_line(protocol),
        origin_mark=ORIGIN_MARKS.get(origin.get("data", ""), ""),
        origin_sentence=str(origin.get("statement", "")),
        identification=identification(protocol),
        method=method(protocol.get("method", {})),
        conclusion=evaluation.conclusion,
        verdict_counts=_verdict_counts(evaluation),
        firm_sentence=_firm_sentence(evaluation),
        contents=tuple(Heading(*line) for line in CONTENTS),
        requirement_groups=_requirement_groups(evaluation, words),
        gaps=evaluation.gaps,
        minimum_designs=evaluation.minimum_designs,
        clauses=evaluation.clauses,
        seal_sentences=seal_sentences(evaluation.seal),
        seal=seal_view(evaluation.seal),
        reissue=reissue_view(evaluation, words),
        amendments=tuple(_amendment(i, a) for i, a in enumerate(evaluation.amendments, start=1)),
        exclusions=tuple(_exclusion(i, e, evaluation, words) for i, e in enumerate(evaluation.exclusions, start=1)),
        changed_figures=_changed_figures(evaluation, words),
        same_figures_sentence=_same_figures_sentence(evaluation),
        recorded_only=tuple(item for item in evaluation.recorded_only if not item.key.startswith(MATERIALS)),
        readiness=readiness_view(evaluation.readiness, words) if evaluation.readiness else None,
        portion=portion_view(evaluation.portion) if evaluation.portion else None,
        studies=_studies(evaluation, words, bodies),
        limits=tuple(Pair(study.title, " ".join(study.limits)) for study in evaluation.studies if study.limits),
        uncertainty_sentence=_uncertainty_sentence(evaluation),
        omitted_sentence=_omitted_sentence(evaluation),
        listings=tuple(
            listing
            for item in evaluation.inputs
            if item.name in inputs
            for listing in listings(item, inputs[item.name], evaluation)
        ),
        materials=materials(protocol.get("materials", {}), evaluation),
        inputs=tuple(_input_line(item) for item in evaluation.inputs),
        catalogue=evaluation.catalogue,
        notices=evaluation.notices,
        software=evaluation.software,
        self_check=" ".join(summary_sentences(evaluation.self_check)),
        self_check_failure=failure_sentence(evaluation.self_check),
        installed_files=evaluation.self_check.installed_files if evaluation.self_check else "",
        signatures=signatures(protocol.get("people", {})),
    )


def _verdict_counts(evaluation: Evaluation) -> tuple[VerdictCount, ...]:
    conclusion = evaluation.conclusion
    counts = {Verdict.MET: conclusion.met, Verdict.NOT_MET: conclusion.not_met, Verdict.NOT_SHOWN: conclusion.not_shown}
    return tuple(
        VerdictCount(VERDICT_WORDS[v], slug(v), f"{count} of {conclusion.criteria}") for v, count in counts.items()
    )


def _firm_sentence(evaluation: Evaluation) -> str:
    conclusion = evaluation.conclusion
    if not conclusion.by_estimate:
        return ""
    by, firm = conclusion.by_estimate, conclusion.firm
    return f"Met by the estimate: {by}, of which firm: {firm}."


def _requirement_groups(evaluation: Evaluation, words: Words) -> tuple[RequirementGroup, ...]:
    studies = {study.name: study for study in evaluation.studies}
    groups = []
    for (name, finding), items in groupby(
        evaluation.requirements, key=lambda r: (r.criterion.study, r.criterion.finding)
    ):
        rows = tuple(items)
        # A claim that no study of the protocol gives stays in the table without a study.
        study = studies.get(name)
        views = tuple(words.criterion_views(rows))
        groups.append(
            RequirementGroup(
                characteristic=kind_of(study, finding).title if study else rows[0].criterion.title,
                study_title=study.title if study else "",
                study_anchor=study_anchor(name) if study else "",
                source=views[0].source_in_table if len({view.source_in_table for view in views}) == 1 else "",
                rows=views,
            )
        )
    return tuple(groups)


def _amendment(number: int, item: Amendment) -> Treatment:
    return Treatment(
        number=str(number),
        what=f"{item.file}, column {item.column}",
        where=_where(item.where),
        change=f"{item.old} → {item.new}",
        rows=str(item.row),
        by=item.by,
        on=item.on,
        reason=item.reason,
        alone="",
    )


def _exclusion(number: int, item: Exclusion, evaluation: Evaluation, words: Words) -> Treatment:
    lifted = next((line for line in evaluation.left_one_out if line.exclusion == number), None)
    alone = "" if lifted is None else "; ".join(_in_words(lifted.changed, evaluation, words)) or "no verdict changes"
    return Treatment(
        number=str(number),
        what=item.file,
        where=_where(item.where),
        change="left out",
        rows=row_spans(item.rows),
        by=item.by,
        on=item.on,
        reason=item.reason,
        alone=alone,
    )


def _in_words(changed: Iterable[str], evaluation: Evaluation, words: Words) -> list[str]:
    """`recovery/rsd_r@1: met → not met` with the printed title, the level and the study."""
    named = {}
    for view in words.criterion_views(evaluation.requirements):
        at = f" at {view.level}" if view.level else ""
        named[view.criterion.id] = f"{inside_sentence(view.title)}{at} ({view.criterion.study})"
    parts = [line.rpartition(": ") for line in changed]
    return [f"{named.get(name, name)}: {verdicts}" for name, _, verdicts in parts]


def _where(where: Mapping[str, str]) -> str:
    return ", ".join(f"{column} = {value}" for column, value in sorted(where.items()))


def _changed_figures(evaluation: Evaluation, words: Words) -> tuple[ChangedFigure, ...]:
    """The judged figures that treatment changed; the tables of part 5 show every other one both ways."""
    verdicts = {r.criterion.id: (r.as_recorded.verdict, r.as_reported.verdict) for r in evaluation.requirements}
    lines = []
    for study in evaluation.studies:
        recorded = {(f.name, f.level): f for f in study.as_recorded.findings}
        reported = {(f.name, f.level): f for f in study.as_reported.findings}
        names = list(dict.fromkeys(name for name, _ in [*reported, *recorded]))
        for key in sorted(dict.fromkeys([*reported, *recorded]), key=lambda key: names.index(key[0])):
            before, after = recorded.get(key), reported.get(key)
            if before == after or (
                before and after and before.value == after.value and before.intervals == after.intervals
            ):
                continue
            pair = verdicts.get(finding_id(study.name, *key))
            if pair is not None:
                lines.append(_changed_figure(study, key, before, after, pair, words))
    return tuple(lines)


def _changed_figure(
    study: StudyEvaluation,
    key: tuple[str, str | None],
    before: Any,
    after: Any,
    verdicts: tuple[Verdict, Verdict],
    words: Words,
) -> ChangedFigure:
    name, level = key
    recorded, reported = verdicts
    return ChangedFigure(
        finding=kind_of(study, name).title,
        study_title=study.title,
        finding_anchor=finding_anchor(study.name, name, level) if after else "",
        level=words.level(level),
        recorded=words.figure_with_unit(before, study.name),
        reported=words.figure_with_unit(after, study.name),
        verdict_recorded=VERDICT_WORDS[recorded],
        verdict_reported=VERDICT_WORDS[reported],
    )


def _same_figures_sentence(evaluation: Evaluation) -> str:
    if not evaluation.amendments and not evaluation.exclusions:
        return "No value was amended and no row was left out: every figure is as recorded."
    if not any(is_treated(study) for study in evaluation.studies):
        return "The amendments and exclusions changed no figure."
    return "Figures without a criterion stand as recorded beside as reported in part 5."


def _studies(evaluation: Evaluation, words: Words, bodies: Mapping[str, Markup]) -> tuple[StudySection, ...]:
    return tuple(
        StudySection(
            anchor=study_anchor(study.name),
            number=f"5.{i}",
            study=study,
            body=bodies.get(study.name, Markup("")),
            notes=pairs([("Study", study.name), ("Kind", study.kind.replace("_", " ")), ("Data", _data(study))]),
            workings=tuple(words.workings(study)),
            working_rows=tuple(words.working_rows(study)),
        )
        for i, study in enumerate(evaluation.studies, start=1)
    )


def _data(study: StudyEvaluation) -> str:
    if study.data_file:
        return study.data_file
    return "no table of its own: figures named below" if study.as_reported.findings else "no table: not measured yet"


def _uncertainty_sentence(evaluation: Evaluation) -> str:
    """Where the uncertainty of a result stands, or that no study gives one."""
    places = [
        f"5.{i}"
        for i, study in enumerate(evaluation.studies, start=1)
        if any(f.name == UNCERTAINTY and f.value is not None for f in study.as_reported.findings)
    ]
    if not places:
        return "No study of this protocol gives a measurement uncertainty."
    return f"The uncertainty of a result, what it covers and what it omits stand in {' and '.join(places)}."


def _omitted_sentence(evaluation: Evaluation) -> str:
    matrix = evaluation.protocol.get("method", {}).get("matrix", "the matrix")
    return (
        f"The findings describe the measurement of test portions of {matrix} that were brought to the laboratory. "
        "They hold no contribution from taking and dividing the sample, from storage before the work, "
        "or from factors listed as not varied."
    )


def _input_line(item: InputFile) -> InputLine:
    return InputLine(
        item.name, item.role, f"{numbers.whole(item.size_bytes)} bytes", item.sha256, f"file-{anchor_text(item.name)}"
    )
