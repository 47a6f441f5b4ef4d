"""A self-check on the terminal."""

from __future__ import annotations

from collections.abc import Iterator

from validate.dossier.self_check_words import summary_sentences
from validate.vocabulary.check import Figure
from validate.vocabulary.self_check import SelfCheck

UPGRADE = (
    "after an upgrade: self-check again and compare; recompute dossiers in use; look through `validate criteria`; "
    "evaluate one known protocol; write down the decision"
)


def table(found: SelfCheck, *, every_check: bool = True) -> str:
    """A line for each check, the figures that are not reached, versions and the hash of the installed files."""
    lines = list(_checks(found)) if every_check else []
    for outcome in found.outcomes:
        lines += [f"not reached  {outcome.check.id}, {_told(f)}" for f in outcome.figures if not f.agrees]
    lines += [f"altered since it was installed  {name}" for name in found.installation.altered]
    lines += summary_sentences(found.summary)
    lines.append(", ".join([found.installation.software, *(f"{n} {v}" for n, v in found.installation.versions)]))
    lines.append(found.installation.platform)
    lines.append(f"installed files {found.installation.installed_files}")
    lines.append(UPGRADE)
    return "\n".join(lines)


def _checks(found: SelfCheck) -> Iterator[str]:
    width = max(len(outcome.check.id) for outcome in found.outcomes)
    yield f"{'check':{width}}  {'kind':11}  agree    deviate"
    for outcome in found.outcomes:
        agreed = sum(figure.agrees for figure in outcome.figures)
        deviating = sum(figure.agrees and figure.deviates for figure in outcome.figures)
        counts = f"{agreed} of {len(outcome.figures)}"
        mark = "" if outcome.passes else "  does not agree"
        yield f"{outcome.check.id:{width}}  {outcome.check.kind:11}  {counts:9}{deviating or '':>7}{mark}".rstrip()


def _told(figure: Figure) -> str:
    return f"{figure.case}, {figure.name}: expected {figure.printed}, obtained {figure.obtained}"
