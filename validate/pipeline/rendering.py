"""Last step: the files of a dossier."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from validate.pipeline.preparing import Prepared, Progress, quiet
from validate.provenance.carrying import (
    EVALUATION,
    MANIFEST,
    NOTE,
    TEXT,
    carried_criteria,
    carried_inputs,
    carried_results,
    note,
)
from validate.provenance.evaluation_file import evaluation_bytes
from validate.provenance.manifest import manifest_bytes, outputs_bytes
from validate.provenance.page_text import page_text
from validate.studies.discovery import section_template
from validate.vocabulary.evaluation import Evaluation

if TYPE_CHECKING:
    from validate.dossier.pdf import Archive

NOT_IN_THE_PAGE = frozenset({EVALUATION, TEXT})
"""What the page does not carry: the evaluation lies beside it, and the words are its own."""


@dataclass(frozen=True)
class Rendered:
    """The files of a dossier; `missing_pdf` says why there is no PDF where it was asked for."""

    files: Mapping[str, bytes]
    missing_pdf: str = ""


def render(
    prepared: Prepared,
    evaluation: Evaluation,
    *,
    with_pdf: bool = True,
    archive: Archive = "pdf/a-3",
    progress: Progress = quiet,
    packages: bool = True,
) -> Rendered:
    """The files of the dossier: HTML, PDF, evaluation, manifest, outputs (name → bytes).

    With `packages` also what its studies give out beside it: pages for single readers, tables.

    Page and PDF carry the inputs, the published limits that were used and the manifest.
    Without the system libraries for the PDF the other files are still complete and
    `missing_pdf` says which packages to install.
    """
    from validate.dossier.html import with_carried
    from validate.dossier.pdf import PangoMissing, render_pdf

    evaluation_json = evaluation_bytes(evaluation)
    progress("drawing the dossier")
    page = render_page(prepared, evaluation)
    text = page_text(page).encode("utf-8")
    criteria = criteria_used(prepared)
    told = note(evaluation, [*(item.name for item in evaluation.inputs), *criteria, EVALUATION, MANIFEST, TEXT])
    manifest = manifest_bytes(evaluation, {**criteria, EVALUATION: evaluation_json, TEXT: text, NOTE: told})
    carried = (
        *carried_inputs(evaluation, prepared.inputs),
        *carried_criteria(criteria),
        *carried_results(evaluation_json, manifest, text, told),
    )
    files = {"dossier.html": with_carried(page, [item for item in carried if item.name not in NOT_IN_THE_PAGE])}
    missing_pdf = ""
    if with_pdf:
        progress("setting the pages")
        try:
            files["dossier.pdf"] = render_pdf(page, evaluation, carried, archive=archive)
        except PangoMissing as error:
            missing_pdf = str(error)
    files[EVALUATION] = evaluation_json
    files[MANIFEST] = manifest
    if packages:
        from validate.pipeline.packaging import package_files

        files |= package_files(prepared, evaluation, with_pdf=with_pdf and not missing_pdf, archive=archive,
                               progress=progress)  # fmt: skip
    files["outputs.json"] = outputs_bytes(files)
    return Rendered(files, missing_pdf)


def render_page(prepared: Prepared, evaluation: Evaluation) -> bytes:
    """The dossier as a page that does not yet carry its files."""
    from validate.dossier.html import render_html

    templates = {kind.kind: section_template(kind.kind) for kind in prepared.studies.values()}
    return render_html(evaluation, prepared.inputs, templates)


def criteria_used(prepared: Prepared) -> dict[str, bytes]:
    """The published sets and minimum designs that the protocol uses, as they ship (name → bytes)."""
    from validate.criteria.shipped import shipped_files

    studies = prepared.protocol.studies.values()
    guides = dict.fromkeys([*prepared.protocol.use, *(guide for study in studies for guide in study.minimum_design)])
    return shipped_files([item.id for item in prepared.resolution.excerpts], guides)
