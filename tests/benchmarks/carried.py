"""What carrying the files costs, and how long recomputing takes, against rendering the same dossier in the same run."""

import os
import statistics
import tempfile
from collections.abc import Callable
from pathlib import Path

from validate.dossier.pdf import render_pdf
from validate.pipeline import evaluate, prepare, render
from validate.pipeline.recomputing import recompute
from validate.pipeline.rendering import render_page
from validate.provenance.evaluation_file import evaluation_bytes

DEMO = Path(__file__).parents[2] / "protocols" / "coffee"
RUNS = 3


def seconds(work: Callable[[], object]) -> float:
    """Processor time, child processes included: median of RUNS runs after one that is not counted."""
    times = []
    for _ in range(RUNS + 1):
        start = sum(os.times()[:4])
        work()
        times.append(sum(os.times()[:4]) - start)
    return statistics.median(times[1:])


def figures() -> list[str]:
    prepared = prepare(DEMO)
    evaluation = evaluate(prepared)

    def bare() -> None:
        evaluation_bytes(evaluation)
        render_pdf(render_page(prepared, evaluation), evaluation)

    whole, bare_seconds = seconds(lambda: render(prepared, evaluation)), seconds(bare)
    files = render(prepared, evaluation).files
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "dossier.pdf").write_bytes(files["dossier.pdf"])
        again = seconds(lambda: recompute(Path(folder) / "dossier.pdf"))
    added = whole / bare_seconds - 1
    return [
        f"attaching, hashing and the manifest / rendering without: {added:+.1%} (wanted: at most 10 %)",
        f"recompute of the demo / rendering it: {again / whole:.2f} (wanted: below 1)",
        f"HTML of the demo: {len(files['dossier.html']) / 1e6:.2f} MB (wanted: below 1.5)",
    ]


if __name__ == "__main__":
    print("\n".join(figures()))
