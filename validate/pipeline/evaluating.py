"""Second step: evaluate every study as recorded and as reported, judge, and conclude."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from validate.pipeline.preparing import Prepared, Progress, files_of, quiet, unique
from validate.pipeline.reissuing import reissue
from validate.provenance.canonical import sha256
from validate.provenance.environment import DISTRIBUTION, package_version
from validate.studies.contract import NeededFinding, StudyInput
from validate.studies.references import reference_values
from validate.vocabulary.evaluation import (
    Conclusion,
    Evaluation,
    InputFile,
    Judgement,
    LeftOneOut,
    Remark,
    Requirement,
    StudyEvaluation,
    StudyResult,
)
from validate.vocabulary.finding import finding_id
from validate.vocabulary.problem import Problem

if TYPE_CHECKING:
    from validate.tables.table import Table

Tables = Mapping[str, "Table"]
Results = dict[str, StudyResult]


def evaluate(prepared: Prepared, progress: Progress = quiet) -> Evaluation:
    """Evaluate every study as recorded and as reported, judge, and conclude.

    Raises InputRefused when the prepared input has an error.
    """
    from validate.criteria.concluding import conclude
    from validate.criteria.coverage import clauses, gaps
    from validate.criteria.designs import minimum_designs
    from validate.criteria.judging import judge_all
    from validate.pipeline.self_checking import self_check_summary
    from validate.portion.result import portion_result
    from validate.protocol.recorded import recorded_only

    protocol, studies, criteria = prepared.protocol, prepared.studies, prepared.resolution.criteria
    portion = protocol.method.portion
    recorded, reported = _evaluate_twice(prepared, progress)
    progress("judging")
    requirements = tuple(
        Requirement(criterion=criterion, as_reported=after, as_recorded=before)
        for criterion, before, after in zip(
            criteria,
            judge_all(criteria, recorded, studies),
            judge_all(criteria, reported, studies),
            strict=True,
        )
    )
    evaluated = tuple(_study_evaluation(prepared, name, recorded, reported, requirements) for name in protocol.studies)
    designs = minimum_designs(prepared.loaded, studies, reported)
    missing = gaps(protocol, studies, reported)
    titles = {study.name: study.title for study in evaluated}
    concluded = conclude(requirements, missing, designs, unit=protocol.method.unit, titles=titles)
    return Evaluation(
        format=1,
        software=f"{DISTRIBUTION} {package_version(DISTRIBUTION)}",
        protocol=protocol.model_dump(mode="json", by_alias=True, exclude_none=True),
        inputs=_input_files(prepared),
        conclusion=_with_readiness(prepared, concluded),
        studies=evaluated,
        requirements=requirements,
        gaps=missing,
        minimum_designs=designs,
        amendments=unique(a for reading in prepared.tables for a in reading.amendments),
        exclusions=unique(e for reading in prepared.readings.values() for e in reading.exclusions),
        left_one_out=_left_one_out(prepared, reported, requirements, progress),
        recorded_only=recorded_only(protocol),
        clauses=clauses(protocol, studies, reported),
        catalogue=prepared.resolution.excerpts,
        notices=tuple(str(problem) for problem in _told_inside_folder(prepared)),
        readiness=prepared.readiness,
        portion=portion_result(portion, prepared.portion_rows) if portion is not None else None,
        self_check=self_check_summary(),
        seal=prepared.sealed.seal,
        reissue=reissue(prepared.loaded, prepared.superseded, evaluated, requirements),
    )


def _evaluate_twice(prepared: Prepared, progress: Progress) -> tuple[Results, Results]:
    """Results as recorded and as reported; a study whose input is the same is computed once."""
    recorded_tables = {name: reading.recorded for name, reading in prepared.readings.items()}
    reported_tables = _reported_tables(prepared)
    reported = _evaluate_all(prepared, reported_tables, progress)
    if not any(reading.amendments or reading.exclusions for reading in prepared.readings.values()):
        return reported, reported
    return _evaluate_all(prepared, recorded_tables, progress, known=(reported_tables, reported)), reported


def _reported_tables(prepared: Prepared) -> dict[str, Table]:
    """An untreated table is the same object both times, so that it is recognised as untouched."""
    return {
        name: reading.reported if reading.amendments or reading.exclusions else reading.recorded
        for name, reading in prepared.readings.items()
    }


def _evaluate_all(
    prepared: Prepared, tables: Tables, progress: Progress, *, known: tuple[Tables, Results] | None = None
) -> Results:
    """Results of every study; with `known` those of untouched tables without needs are taken over."""
    results: Results = {}
    for name, kind in prepared.studies.items():
        table = tables.get(name)
        if known is not None and not kind.needs and table is known[0].get(name):
            results[name] = known[1][name]
        elif table is None and not kind.without_table:
            results[name] = StudyResult(findings=())
        else:
            progress(f"evaluating {name}")
            results[name] = kind.evaluate(_study_input(prepared, name, table, results))
    return results


def _study_input(prepared: Prepared, name: str, table: Table | None, results: Results) -> StudyInput:
    from validate.criteria.resolving import comparisons

    return StudyInput(
        name=name,
        settings=prepared.protocol.studies[name],
        table=table,
        method=prepared.method,
        comparisons=comparisons(prepared.resolution.criteria, name),
        materials=reference_values(prepared.protocol.materials, prepared.method.unit),
        needed=_needed(prepared, name, results),
        files=files_of(prepared.studies[name], prepared.protocol.studies[name], prepared.attachments),
    )


def _needed(prepared: Prepared, name: str, results: Results) -> tuple[NeededFinding, ...]:
    """The findings that a study declares as needs, from the studies before it, with their verdicts."""
    wanted = {need.finding for need in prepared.studies[name].needs}
    if not wanted:
        return ()
    from validate.criteria.judging import judge_all

    criteria = [c for c in prepared.resolution.criteria if c.finding in wanted and c.study in results]
    judged: dict[str, list[Judgement]] = {}
    for criterion, judgement in zip(criteria, judge_all(criteria, results, prepared.studies), strict=True):
        judged.setdefault(criterion.id, []).append(judgement)
    return tuple(
        NeededFinding(
            study=study,
            finding=finding,
            verdicts=tuple(j.verdict for j in judged.get(finding_id(study, finding.name, finding.level), ())),
            evidence=tuple(j.evidence for j in judged.get(finding_id(study, finding.name, finding.level), ())),
            title=next((kind.title for kind in prepared.studies[study].findings if kind.name == finding.name), ""),
        )
        for study, result in results.items()
        for finding in result.findings
        if finding.name in wanted
    )


def _study_evaluation(
    prepared: Prepared, name: str, recorded: Results, reported: Results, requirements: Sequence[Requirement]
) -> StudyEvaluation:
    kind, settings = prepared.studies[name], prepared.protocol.studies[name]
    limits: tuple[str, ...] = ()
    if kind.limits and reported[name].findings:
        job = _study_input(prepared, name, _reported_tables(prepared).get(name), reported)
        limits = kind.limits(job, reported[name])
    conclusion = None
    if kind.conclude and reported[name].findings:
        conclusion = kind.conclude(reported[name], tuple(r for r in requirements if r.criterion.study == name))
    return StudyEvaluation(
        name=name,
        kind=kind.kind,
        title=settings.title or kind.title,
        question=kind.question,
        kinds_of_finding=kind.findings,
        data_file=settings.data.file if settings.data else None,
        as_reported=_marked(prepared, name, reported[name]),
        as_recorded=_marked(prepared, name, recorded[name]),
        limits=limits,
        conclusion=conclusion,
    )


def _with_readiness(prepared: Prepared, conclusion: Conclusion) -> Conclusion:
    """The conclusion, and beside it how many results were made while ready."""
    told = prepared.readiness.sentences if prepared.readiness else ()
    return replace(conclusion, sentences=(*conclusion.sentences, *told))


def _marked(prepared: Prepared, name: str, result: StudyResult) -> StudyResult:
    """The result with a warning when rows of the study's table were not made while ready."""
    tables = prepared.readiness.tables if prepared.readiness and prepared.readiness.rules else ()
    texts = [table.sentence for table in tables if table.study == name and table.sentence]
    if not (texts and result.findings):
        return result
    return replace(result, remarks=(*(Remark(kind="warning", text=text) for text in texts), *result.remarks))


def _left_one_out(
    prepared: Prepared,
    reported: Results,
    requirements: Sequence[Requirement],
    progress: Progress,
) -> tuple[LeftOneOut, ...]:
    """Which verdicts change when one exclusion is lifted; only where there is more than one."""
    from validate.criteria.judging import judge_all

    exclusions = unique(e for reading in prepared.readings.values() for e in reading.exclusions)
    if len(exclusions) < 2:
        return ()
    tables = _reported_tables(prepared)
    lines = []
    for number, exclusion in enumerate(exclusions, start=1):
        progress(f"lifting exclusion {number} of {len(exclusions)}")
        lifted = {
            name: reading.lifting(reading.exclusions.index(exclusion))
            for name, reading in prepared.readings.items()
            if exclusion in reading.exclusions
        }
        results = _evaluate_all(prepared, tables | lifted, quiet, known=(tables, reported))
        judged = judge_all(prepared.resolution.criteria, results, prepared.studies)
        changed = tuple(
            f"{r.criterion.id}: {r.as_reported.verdict} → {j.verdict}"
            for r, j in zip(requirements, judged, strict=True)
            if j.verdict is not r.as_reported.verdict
        )
        lines.append(LeftOneOut(exclusion=number, changed=changed))
    return tuple(lines)


def _told_inside_folder(prepared: Prepared) -> list[Problem]:
    """The notices, their places named from the protocol's folder: a dossier does not depend on where it lay."""
    prefix = f"{prepared.loaded.shown_folder}/"
    return [
        replace(problem, place=replace(problem.place, file=problem.place.file.removeprefix(prefix)))
        for problem in prepared.problems
    ]


def _input_files(prepared: Prepared) -> tuple[InputFile, ...]:
    read_as: dict[str, tuple[str, ...]] = {}
    for reading in prepared.tables:
        read_as[reading.file] = unique((*read_as.get(reading.file, ()), reading.read_as))
    return tuple(
        InputFile(
            name=name,
            sha256=sha256(content),
            size_bytes=len(content),
            role=_role(prepared, name),
            read_as=" ".join(read_as.get(name, ())),
        )
        for name, content in prepared.inputs.items()
    )


def _role(prepared: Prepared, name: str) -> str:
    if name == prepared.loaded.path.name:
        return "protocol"
    if name in prepared.sealed.files:
        return "seal"
    if name in prepared.superseded.files:
        return "superseded"
    return "attachment" if name in prepared.attachments else "table"
