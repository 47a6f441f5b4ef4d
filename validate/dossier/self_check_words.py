"""What a dossier says of the check values of the software that made it."""

from __future__ import annotations

from validate.vocabulary.self_check import SelfCheckSummary


def summary_sentences(summary: SelfCheckSummary | None) -> tuple[str, ...]:
    """The counts in words; none when the checks were not run."""
    if summary is None:
        return ()
    told = [
        f"{summary.passed} of {summary.checks} checks agree: this installation reaches {summary.agreed} of "
        f"{summary.figures} figures that it did not compute itself."
    ]
    if summary.deviations:
        told.append(f"Off by more than half a unit of the last digit, each for a listed cause: {summary.deviations}.")
    if summary.failed:
        told.append(f"Not reached: {', '.join(summary.failed)}.")
    return tuple(told)


def failure_sentence(summary: SelfCheckSummary | None) -> str:
    """The warning for the first page of a dossier; empty when every check passes."""
    if summary is None or not summary.failed:
        return ""
    return (
        f"The software did not reach its own check values ({', '.join(summary.failed)}). "
        "Do not use this dossier before the cause is found."
    )
