"""A protocol that supersedes an earlier dossier: its manifest and evaluation, read from the protocol's folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from validate.provenance.canonical import sha256
from validate.provenance.manifest import read_manifest
from validate.provenance.reissue import (
    changed_figures,
    evaluation_of_manifest,
    file_changes,
    read_earlier,
    told_files,
)
from validate.tables.files import read_inside
from validate.vocabulary.place import Place
from validate.vocabulary.problem import InputRefused, Problem, ProblemCatalogue
from validate.vocabulary.reissue import Reissue, ReissuedFile

if TYPE_CHECKING:
    from validate.protocol.loading import LoadedProtocol
    from validate.vocabulary.evaluation import Requirement, StudyEvaluation

PROBLEMS = ProblemCatalogue(__file__)
LARGEST_BYTES = 100_000_000


@dataclass(frozen=True)
class Superseded:
    """The earlier dossier as read: its evaluation as plain data, and how the inputs stand to its manifest."""

    earlier: Mapping[str, Any] | None = None
    evaluation_sha256: str = ""
    told: tuple[ReissuedFile, ...] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


def read_superseded(loaded: LoadedProtocol, inputs: Mapping[str, tuple[str, bytes]]) -> Superseded:
    """The files that `supersedes` names; `inputs` maps the name of each input to its role and content.

    A table that differs from the earlier manifest otherwise than by rows added at its end is a
    problem: values are corrected by amendments, and the recorded file stays.
    """
    named = loaded.protocol.supersedes
    if named is None or (named.manifest is None and named.evaluation is None):
        return Superseded()
    files: dict[str, bytes] = {}
    problems: list[Problem] = []
    read = {}
    for key, reader in (("manifest", read_manifest), ("evaluation", read_earlier)):
        name = getattr(named, key)
        if name is None:
            continue
        place = loaded.place("supersedes", key)
        try:
            files[name] = read_inside(loaded.folder, name, largest_bytes=LARGEST_BYTES)
            read[key] = reader(files[name])
        except InputRefused as refused:
            problems += [_moved(problem, place) for problem in refused.problems]
        except ValueError as error:
            problems.append(PROBLEMS.problem("superseded-unreadable", place, file=name, why=error))
    manifest, earlier = read.get("manifest"), read.get("evaluation")
    if manifest is not None and earlier is not None:
        expected = evaluation_of_manifest(manifest)
        if expected != sha256(files[named.evaluation]):
            place = loaded.place("supersedes", "evaluation")
            problems.append(PROBLEMS.problem("superseded-apart", place, file=named.evaluation, manifest=named.manifest))
    changes = file_changes(manifest, inputs) if manifest is not None else []
    place = loaded.place("supersedes", "manifest")
    problems += [
        PROBLEMS.problem("superseded-table-changed", place, file=change.name)
        for change in changes
        if change.kind == "changed"
    ]
    return Superseded(
        earlier=earlier,
        evaluation_sha256=sha256(files[named.evaluation]) if earlier is not None else "",
        told=told_files(changes),
        files=files,
        problems=tuple(problems),
    )


def reissue(
    loaded: LoadedProtocol,
    superseded: Superseded,
    studies: tuple[StudyEvaluation, ...],
    requirements: tuple[Requirement, ...],
) -> Reissue | None:
    """What the dossier says of the superseded one; None when its files are not named."""
    named, earlier = loaded.protocol.supersedes, superseded.earlier
    if not superseded.files:
        return None
    compared, figures = (0, ()) if earlier is None else changed_figures(earlier, studies, requirements)
    return Reissue(
        title=named.title,
        reason=named.reason or "",
        evaluation_sha256=superseded.evaluation_sha256,
        software=str((earlier or {}).get("software", "")),
        compared=compared,
        figures=figures,
        files=superseded.told,
    )


def _moved(problem: Problem, place: Place) -> Problem:
    from dataclasses import replace

    return replace(problem, place=place)
