"""Render every protocol into reports/: HTML and evaluation.json, the PDF for the README's demo only.

Run from anywhere: `.venv/bin/python tests/reports/render.py` (or `make reports`).
"""

from pathlib import Path

from validate.pipeline import evaluate, prepare, render
from validate.provenance.environment import environment_text
from validate.provenance.writing import write_files

ROOT = Path(__file__).parents[2]
DEMO = "coffee"
KEPT = ("dossier.html", "evaluation.json", "manifest.json")


def main() -> None:
    for protocol in sorted(ROOT.glob("protocols/*/protocol.yaml")):
        name = protocol.parent.name
        prepared = prepare(protocol)
        rendered = render(prepared, evaluate(prepared), with_pdf=name == DEMO)
        kept = {file: rendered.files[file] for file in (*KEPT, *(["dossier.pdf"] if name == DEMO else []))}
        write_files(ROOT / "reports" / name, kept)
        print(f"reports/{name}")
    write_files(ROOT / "reports", {"ENVIRONMENT": environment_text().encode()})


if __name__ == "__main__":
    main()
