"""Speed of rounds between laboratories, against a general library in the same run; called by run.py."""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
RUNS = 5
SEED = 20310303


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def algorithm_a_ratio(measurands: int = 10_000, laboratories: int = 100) -> float:
    """A loop over a general estimator of location and scale against one call for all measurands.

    The loop is timed on a tenth of the rows; rows at which it gives up count as done.
    """
    import numpy as np
    from statsmodels.robust.scale import Huber

    from validate.stats.robust import algorithm_a

    rng = np.random.default_rng(SEED)
    x = rng.standard_normal((measurands, laboratories))
    x[rng.random(x.shape) < 0.05] += 5
    single = Huber()

    def one_by_one() -> None:
        for row in x[: measurands // 10]:
            try:
                single(row)
            except ValueError:
                continue

    algorithm_a(x)
    together = statistics.median(_timed(lambda: algorithm_a(x)) for _ in range(4 * RUNS + 1))
    return 10 * _timed(one_by_one) / together


def qn_seconds(n: int = 100_000) -> float:
    """Qn of n results; the general library crashes from 46,341 on."""
    import numpy as np

    from validate.stats.robust import qn

    x = np.random.default_rng(SEED).standard_normal(n)
    qn(x)
    return statistics.median(_timed(lambda: qn(x)) for _ in range(RUNS))


def modes_seconds(n: int = 34) -> float:
    """Kernel modes with 1,000 bootstrap samples."""
    import numpy as np

    from validate.stats.proficiency import consensus_modes

    x = np.random.default_rng(SEED).standard_normal(n)
    consensus_modes(x, 1.0, seed=1)
    return statistics.median(_timed(lambda: consensus_modes(x, 1.0, seed=1)) for _ in range(RUNS))


def scoring_megabytes(results: int = 10_000_000) -> float:
    """Peak memory of a process of its own that scores so many results in rows of 1,000 laboratories."""
    code = (
        "import numpy as np;"
        "from validate.stats import proficiency, robust;"
        f"x = np.random.default_rng({SEED}).standard_normal(({results} // 1000, 1000));"
        "found = robust.algorithm_a(x);"
        "u = 1.25 * found.sd / np.sqrt(found.n);"
        "z = proficiency.z(x, found.mean[:, None], 1.0);"
        "z_prime = proficiency.z_prime(x, found.mean[:, None], 1.0, u[:, None]);"
        "signal = proficiency.signals(z, kind='z');"
        "print(next(int(l.split()[1]) for l in open('/proc/self/status') if l.startswith('VmHWM')) / 1024)"
    )
    command = [sys.executable, "-c", code]
    return float(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)


def large_round(folder: Path, laboratories: int, measurands: int) -> Path:
    """A constructed round, for speed only."""
    import numpy as np

    x = 100 * (1 + 0.15 * np.random.default_rng(SEED).standard_normal((laboratories, measurands)))
    lines = [f"L{i:04d},A,m{j:02d},{x[i, j]:.2f},20,2" for i in range(laboratories) for j in range(measurands)]
    table = "laboratory,sample,measurand,result,uncertainty,k\n" + "\n".join(lines) + "\n"
    (folder / "results.csv").write_text(table, encoding="utf-8")
    names = ", ".join(f"m{j:02d}: {{}}" for j in range(measurands))
    (folder / "protocol.yaml").write_text(
        f"""format: 1
id: SPEED-ROUND
title: Constructed round for timing
issued: 2031-03-03
origin: {{data: invented, statement: constructed for timing}}
laboratory: Example organiser (fictional)
purpose: round
intended_use: quantitative
method: {{measurand: many, matrix: wheat, unit: µg/kg}}
studies:
  round:
    kind: proficiency_round
    round: speed
    status: final
    items: {{preparation: Constructed.}}
    data: {{file: results.csv}}
    samples: [A]
    measurands: {{{names}}}
    assigned_value: {{by: algorithm A}}
    sigma_pt: {{by: prescribed, percent: 15, source: constructed}}
""",
        encoding="utf-8",
    )
    return folder


def evaluated_seconds(laboratories: int = 2_000, measurands: int = 50) -> float:
    """Evaluating a round of that size, tables read before."""
    from validate.pipeline import evaluate, prepare

    with tempfile.TemporaryDirectory() as folder:
        prepared = prepare(large_round(Path(folder), laboratories, measurands))
        evaluate(prepared)
        return min(_timed(lambda: evaluate(prepared)) for _ in range(3))


def pages(laboratories: int) -> tuple[float, float]:
    """Pages (HTML and PDF each) a second over two processes, and processor seconds for one page.

    A busy machine slows the first figure and leaves the second. Reading the styles, once for
    all pages, is part of both; the libraries are loaded before.
    """
    from validate.dossier.leaflets import LeafletPress
    from validate.pipeline import evaluate, prepare
    from validate.pipeline.packaging import _leaflets, _packages

    with tempfile.TemporaryDirectory() as folder:
        prepared = prepare(large_round(Path(folder), laboratories, 1))
        evaluation = evaluate(prepared)
        study = evaluation.studies[0]
        leaflets = _packages(prepared, study, prepared.studies["round"]).leaflets
        LeafletPress(evaluation, study.title).pdf(leaflets[0])
        before = _processor_seconds()
        seconds = _timed(lambda: list(_leaflets(evaluation, study, leaflets, True, lambda _: None)))
        return len(leaflets) / seconds, (_processor_seconds() - before) / len(leaflets)


def _processor_seconds() -> float:
    usage = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in usage)


def told() -> Iterator[str]:
    """One line for each measurement."""
    ratio = algorithm_a_ratio()
    yield f"algorithm A, 10,000 × 100: statsmodels Huber one by one / one call: {ratio:.0f} (wanted: at least 100)"
    yield f"Qn of 100,000 results: {qn_seconds():.3f} s (wanted: about 0.1)"
    yield f"kernel modes with 1,000 bootstrap samples: {1000 * modes_seconds():.1f} ms (wanted: about 10)"
    yield f"peak memory, 10,000,000 results scored: {scoring_megabytes():.0f} MB (wanted: below 4,000)"
    yield f"2,000 laboratories × 50 measurands evaluated in {evaluated_seconds():.2f} s (wanted: below 2)"
    for laboratories in (34, 340, 2_000):
        rate, processor = pages(laboratories)
        yield (
            f"pages of {laboratories} laboratories: {rate:.1f} a second over two processes (wanted: at least 8),"
            f" {processor:.2f} processor seconds each"
        )


if __name__ == "__main__":
    for line in told():
        print(line)
