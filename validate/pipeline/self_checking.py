"""Run the check values that ship with the package on this installation, and render what they gave."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from validate.pipeline.preparing import Progress, quiet
from validate.pipeline.rendering import Rendered
from validate.provenance.installed import installation, installed_files_hash
from validate.provenance.writing import EnvironmentFails
from validate.vocabulary.check import Outcome
from validate.vocabulary.self_check import SelfCheck, SelfCheckSummary, summary_of

PAGE, PAGES = "self-check.html", "self-check.pdf"


def self_check(progress: Progress = quiet) -> SelfCheck:
    """Every check, with its figures beside the printed ones, and the installation that they were run on.

    Raises EnvironmentFails when the check values are not there or cannot be read.
    """
    progress("running the checks")
    return SelfCheck(installation=installation(), outcomes=_outcomes())


def self_check_summary() -> SelfCheckSummary:
    """The counts that a method dossier carries; the checks run once for the files that are installed."""
    installed = installed_files_hash()
    return replace(_summary(installed), installed_files=installed)


def render_self_check(found: SelfCheck, *, with_pdf: bool = True, progress: Progress = quiet) -> Rendered:
    """The files of a self-check: HTML and PDF; `missing_pdf` says why there is no PDF."""
    from validate.dossier.pdf import PangoMissing, set_pages
    from validate.dossier.self_check import render_page

    progress("drawing the page")
    files = {PAGE: render_page(found)}
    if not with_pdf:
        return Rendered(files)
    progress("setting the pages")
    try:
        return Rendered({**files, PAGES: set_pages(files[PAGE])})
    except PangoMissing as error:
        return Rendered(files, str(error))


@lru_cache(maxsize=1)
def _summary(installed_files: str) -> SelfCheckSummary:
    return summary_of(_outcomes())


def _outcomes() -> tuple[Outcome, ...]:
    from validate.checks.comparing import run
    from validate.checks.loading import checks

    try:
        known = checks()
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise EnvironmentFails(f"the check values cannot be read, install the package anew: {error}") from error
    if not known:
        raise EnvironmentFails("the check values are not there, install the package anew")
    return tuple(run(check) for check in known)
