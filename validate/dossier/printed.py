"""What a dossier prints of an evaluation, without drawing it: for comparing a carried text."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from markupsafe import Markup

from validate.dossier.html import compose, finished_page
from validate.dossier.words import VERDICT_WORDS, Words
from validate.vocabulary.evaluation import Evaluation


def page_without_pictures(
    evaluation: Evaluation, inputs: Mapping[str, bytes], section_templates: Mapping[str, str]
) -> bytes:
    """The dossier's page with every word and without a drawing: a fraction of the time."""
    return finished_page(*compose(evaluation, inputs, section_templates, _no_picture))


def missing_statements(evaluation: Evaluation, lines: Sequence[str], essence: Callable[[str], str]) -> Iterator[str]:
    """Findings and verdicts that no line of a dossier's text states, in sentences.

    A figure must stand with its unit or limits in one line, a verdict with its figure; so a
    text that an earlier version arranged otherwise is read as well. `essence` makes texts comparable.
    """
    words = Words(evaluation, _no_picture)
    for study in evaluation.studies:
        for finding in study.as_reported.findings:
            parts = [words.figure(finding, study.name), words.limits(finding, study.name)]
            if finding.value is not None and not _stands(parts, lines, essence):
                yield f"no line of the dossier's text gives {study.name}/{finding.name} as {' with '.join(parts)}"
    for item in evaluation.requirements:
        view = words.criterion_views([item])[0]
        parts = [view.found, view.wording, VERDICT_WORDS[item.as_reported.verdict]]
        if not _stands(parts, lines, essence):
            yield f"no line of the dossier's text gives {item.criterion.id} as {' / '.join(parts)}"


def _stands(parts: Sequence[str], lines: Sequence[str], essence: Callable[[str], str]) -> bool:
    wanted = [essence(part) for part in parts]
    return any(all(part in line for part in wanted) for line in lines)


def _no_picture(*_: Any) -> Markup:
    return Markup("")
