"""Render every protocol into reports/: HTML and evaluation.json, of the round two participants, one PDF for the README.

Run from anywhere: `.venv/bin/python tests/reports/render.py` (or `make reports`).
"""

from dataclasses import replace
from pathlib import Path

from validate.pipeline import evaluate, prepare, render
from validate.provenance.environment import environment_text
from validate.provenance.writing import write_files
from validate.vocabulary.evaluation import Evaluation

ROOT = Path(__file__).parents[2]
DEMO = "coffee"
KEPT = ("dossier.html", "evaluation.json", "manifest.json")
PARTICIPANTS = {"wheat": ("participants/BX379.html", "participants/XT213.html")}
"""Two of a round's participants: one whose scores ask for nothing, one that reported a tenth of the content."""


def kept_files(name: str) -> tuple[str, ...]:
    """The files below reports/NAME that every environment renders again."""
    return (*KEPT, *PARTICIPANTS.get(name, ()))


def to_be_kept(evaluation: Evaluation) -> Evaluation:
    """The evaluation without the hash of the installed files, which differs after every change of a comment."""
    return replace(evaluation, self_check=replace(evaluation.self_check, installed_files=""))


def main() -> None:
    for protocol in sorted(ROOT.glob("protocols/*/protocol.yaml")):
        name = protocol.parent.name
        prepared = prepare(protocol)
        rendered = render(prepared, to_be_kept(evaluate(prepared)), with_pdf=name == DEMO)
        kept = {file: rendered.files[file] for file in (*kept_files(name), *(["dossier.pdf"] if name == DEMO else []))}
        write_files(ROOT / "reports" / name, kept)
        print(f"reports/{name}")
    write_files(ROOT / "reports", {"ENVIRONMENT": environment_text().encode()})


if __name__ == "__main__":
    main()
