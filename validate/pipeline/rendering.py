"""Last step: the files of a dossier."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from validate.pipeline.preparing import Prepared, Progress, quiet
from validate.provenance.evaluation_file import evaluation_bytes
from validate.provenance.manifest import manifest_bytes, outputs_bytes
from validate.studies.discovery import section_template
from validate.vocabulary.evaluation import Evaluation


@dataclass(frozen=True)
class Rendered:
    """The files of a dossier; `missing_pdf` says why there is no PDF where it was asked for."""

    files: Mapping[str, bytes]
    missing_pdf: str = ""


def render(prepared: Prepared, evaluation: Evaluation, *, with_pdf: bool = True, progress: Progress = quiet) -> Rendered:
    """The files of the dossier: HTML, PDF, evaluation, manifest, outputs (name → bytes).

    Without the system libraries for the PDF the other files are still complete and
    `missing_pdf` says which packages to install.
    """
    from validate.dossier.html import render_html
    from validate.dossier.pdf import PangoMissing, render_pdf

    evaluation_json = evaluation_bytes(evaluation)
    progress("drawing the dossier")
    templates = {kind.kind: section_template(kind.kind) for kind in prepared.studies.values()}
    files = {"dossier.html": render_html(evaluation, prepared.inputs, templates)}
    missing_pdf = ""
    if with_pdf:
        progress("setting the pages")
        try:
            files["dossier.pdf"] = render_pdf(files["dossier.html"], evaluation)
        except PangoMissing as error:
            missing_pdf = str(error)
    files["evaluation.json"] = evaluation_json
    files["manifest.json"] = manifest_bytes(evaluation, evaluation_json)
    files["outputs.json"] = outputs_bytes(files)
    return Rendered(files, missing_pdf)
