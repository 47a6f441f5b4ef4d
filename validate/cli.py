"""The command line: arguments and exit codes only. The work is in `pipeline`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from validate.vocabulary.problem import Problem

DONE, CRITERION_OPEN, INPUT_REFUSED, ENVIRONMENT_FAILS = 0, 1, 2, 3
NOT_THE_SAME = 1


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code.

    0 done; 1 with --strict, a criterion is not met or not shown, a dossier does not
    recompute, or a check value is not reached; 2 the input or the command cannot be used;
    3 the environment fails (disk, permissions, no text layout library for the PDF).
    """
    options = _parser().parse_args(arguments)
    from validate.provenance.writing import EnvironmentFails
    from validate.vocabulary.problem import InputRefused

    try:
        return options.run(options)
    except InputRefused as refused:
        _tell_problems(refused.problems)
        return INPUT_REFUSED
    except EnvironmentFails as failure:
        _clear()
        print(failure, file=sys.stderr)
        return ENVIRONMENT_FAILS
    except BrokenPipeError:
        sys.stderr.close()
        return ENVIRONMENT_FAILS


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="validate", description="From a validation protocol and its tables to a dossier that can be recomputed."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    check = commands.add_parser("check", help="name every problem of a protocol and its tables")
    check.add_argument("protocol", type=Path, metavar="PROTOCOL", help="protocol file, or a folder with protocol.yaml")
    check.set_defaults(run=_check)

    dossier = commands.add_parser("dossier", help="evaluate a protocol and write its dossier")
    dossier.add_argument(
        "protocol", type=Path, metavar="PROTOCOL", help="protocol file, or a folder with protocol.yaml"
    )
    dossier.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the dossier")
    dossier.add_argument("--strict", action="store_true", help="exit with 1 when a criterion is not met or not shown")
    dossier.add_argument("--no-pdf", action="store_true", help="write everything but the PDF")
    dossier.add_argument(
        "--archive",
        choices=("pdf/a-3", "pdf/a-2"),
        default="pdf/a-3",
        help="pdf/a-2 for an archive that refuses attachments: the PDF then carries nothing, the page still does",
    )
    dossier.set_defaults(run=_dossier)

    recompute = commands.add_parser("recompute", help="evaluate a dossier again from what it carries, and compare")
    recompute.add_argument("dossier", type=Path, metavar="FILE.pdf|DIR", help="the PDF, or the folder of a dossier")
    recompute.set_defaults(run=_recompute)

    seal = commands.add_parser(
        "seal", help="declare design and criteria before measuring: seal.yaml beside the protocol"
    )
    seal.add_argument("protocol", type=Path, metavar="PROTOCOL", help="protocol file, or a folder with protocol.yaml")
    seal.add_argument("--date", metavar="YYYY-MM-DD", help="declared date; the protocol's `issued` when absent")
    seal.add_argument("--by", metavar="PERSON", help="who declares it; the protocol's `people: approved` when absent")
    seal.add_argument("--revise", action="store_true", help="record what changed since, with --reason and --date")
    seal.add_argument("--reason", metavar="TEXT", help="why the design or a criterion was changed")
    seal.add_argument(
        "--token", type=Path, metavar="FILE", help="keep a time-stamp token (RFC 3161) on the seal's hash"
    )
    seal.set_defaults(run=_seal)

    new = commands.add_parser("new", help="write a first, commented protocol and its entry workbook")
    new.add_argument("name", metavar="KIND|PURPOSE", help="a kind of study, or what the work is for")
    new.add_argument("folder", type=Path, metavar="FOLDER", help="folder for the files; nothing in it is overwritten")
    new.set_defaults(run=_new)

    plan = commands.add_parser("plan", help="write bench sheet and entry workbook of a protocol")
    plan.add_argument("protocol", type=Path, metavar="PROTOCOL", help="protocol file, or a folder with protocol.yaml")
    plan.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the plan")
    plan.add_argument("--no-pdf", action="store_true", help="write everything but the PDF")
    plan.set_defaults(run=_plan)

    check_software = commands.add_parser("self-check", help="run published and certified values on this installation")
    check_software.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for its pages; without, a table is printed"
    )
    check_software.add_argument("--no-pdf", action="store_true", help="write the HTML only")
    check_software.set_defaults(run=_self_check)

    schema = commands.add_parser("schema", help="print the JSON Schema of a protocol, for editors")
    schema.set_defaults(run=_schema)

    criteria = commands.add_parser("criteria", help="list the published limits and minimum designs")
    criteria.set_defaults(run=_criteria)
    return parser


def _check(options: argparse.Namespace) -> int:
    from validate.pipeline import prepare
    from validate.vocabulary.problem import ERROR

    prepared = prepare(options.protocol, _progress)
    _tell_problems(prepared.problems)
    if any(problem.severity == ERROR for problem in prepared.problems):
        return INPUT_REFUSED
    print("the protocol and its tables can be evaluated")
    return DONE


def _dossier(options: argparse.Namespace) -> int:
    from validate.pipeline import evaluate, prepare, render
    from validate.provenance.writing import left_behind, write_files

    prepared = prepare(options.protocol, _progress)
    evaluation = evaluate(prepared, _progress)
    rendered = render(prepared, evaluation, with_pdf=not options.no_pdf, archive=options.archive, progress=_progress)
    _progress("writing")
    stale = left_behind(options.out, rendered.files)
    write_files(options.out, rendered.files, remove={*stale, "dossier.pdf"} - set(rendered.files))
    _tell_problems(prepared.problems)
    print("\n".join(evaluation.conclusion.sentences))
    if rendered.missing_pdf:
        print(rendered.missing_pdf, file=sys.stderr)
        return ENVIRONMENT_FAILS
    open_criteria = evaluation.conclusion.not_met + evaluation.conclusion.not_shown
    return CRITERION_OPEN if options.strict and open_criteria else DONE


def _recompute(options: argparse.Namespace) -> int:
    from validate.pipeline.recomputing import recompute
    from validate.provenance.opening import NotADossier
    from validate.vocabulary.problem import printable

    try:
        result = recompute(options.dossier, _progress)
    except NotADossier as refused:
        _clear()
        print(printable(str(refused), 500), file=sys.stderr)
        return INPUT_REFUSED
    _clear()
    for heading, lines in (("agrees", result.agrees), ("differs", result.differs), ("note", result.notes)):
        for line in lines:
            for part in line.split("\n"):
                print(f"{heading}  {printable(part, 500)}")
    print("the dossier does not recompute" if result.differs else "the dossier recomputes to what it says")
    return NOT_THE_SAME if result.differs else DONE


def _seal(options: argparse.Namespace) -> int:
    from validate.pipeline import prepare
    from validate.pipeline.sealing import seal_files
    from validate.provenance.writing import write_files

    if options.revise and not (options.reason and options.date):
        print("a revision needs --reason and --date", file=sys.stderr)
        return INPUT_REFUSED
    prepared = prepare(options.protocol, _progress, with_tables=False)
    sealed = seal_files(prepared, options.date, options.by, options.reason if options.revise else None, options.token)
    write_files(prepared.loaded.folder, sealed.files)
    _tell_problems(prepared.problems)
    print("\n".join(sealed.told))
    return DONE


def _new(options: argparse.Namespace) -> int:
    from validate.pipeline.planning import start
    from validate.provenance.writing import write_files

    files = start(options.name, options.folder)
    write_files(options.folder, files)
    print(f"{options.folder}: {' and '.join(files)} to start from; change the protocol, then plan it")
    return DONE


def _plan(options: argparse.Namespace) -> int:
    from validate.pipeline import prepare
    from validate.pipeline.planning import WORKBOOK, plan, refuse_to_lose_results, render_plan
    from validate.provenance.writing import write_files

    planned = plan(prepare(options.protocol, _progress, with_tables=False), _progress)
    rendered = render_plan(planned, with_pdf=not options.no_pdf, progress=_progress)
    refuse_to_lose_results(options.out, rendered.files[WORKBOOK])
    _progress("writing")
    write_files(options.out, rendered.files, remove=() if "bench.pdf" in rendered.files else ("bench.pdf",))
    _tell_problems(planned.problems)
    print(f"seed of the order: {planned.plan.seed.value}, {planned.plan.seed.origin}")
    if rendered.missing_pdf:
        print(rendered.missing_pdf, file=sys.stderr)
        return ENVIRONMENT_FAILS
    return DONE


def _self_check(options: argparse.Namespace) -> int:
    from validate.dossier.self_check_table import table
    from validate.pipeline.self_checking import PAGES, render_self_check, self_check
    from validate.provenance.writing import write_files

    found = self_check(_progress)
    missing_pdf = ""
    if options.out:
        rendered = render_self_check(found, with_pdf=not options.no_pdf, progress=_progress)
        _progress("writing")
        write_files(options.out, rendered.files, remove=() if PAGES in rendered.files else (PAGES,))
        missing_pdf = rendered.missing_pdf
    _clear()
    print(table(found, every_check=not options.out))
    if not found.passes:
        return NOT_THE_SAME
    if missing_pdf:
        print(missing_pdf, file=sys.stderr)
        return ENVIRONMENT_FAILS
    return DONE


def _schema(options: argparse.Namespace) -> int:
    from validate.protocol.schema import schema_text
    from validate.studies.discovery import kinds

    sys.stdout.write(schema_text({name: kind.settings for name, kind in kinds().items()}))
    return DONE


def _criteria(options: argparse.Namespace) -> int:
    from validate.criteria.catalogue import describe

    print(describe())
    return DONE


def _tell_problems(problems: Sequence[Problem]) -> None:
    """What is wrong or doubtful to the standard error, what is only told to the standard output."""
    from validate.vocabulary.problem import TOLD

    _clear()
    for problem in problems:
        print(problem, file=sys.stdout if problem.severity == TOLD else sys.stderr)


def _progress(step: str) -> None:
    """Show the step at work on a terminal; say nothing in a pipe or a log."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r\x1b[2K{step} …")
        sys.stderr.flush()


def _clear() -> None:
    if sys.stderr.isatty():
        sys.stderr.write("\r\x1b[2K")
