"""Speed and size against a peer in the same run: `make bench`. Ratios travel between machines, seconds do not.

Not part of the tests: a timed test fails on a busy machine and says nothing then.
"""

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMO = str(ROOT / "protocols" / "coffee")
PYTHON = sys.executable
RUNS = 5

BARE = [PYTHON, "-c", "pass"]
LIBRARIES = [PYTHON, "-c", "import numpy, pandas, scipy.stats, matplotlib.figure"]


def seconds(command: list[str]) -> float:
    """Median wall time of RUNS runs after one that is not counted."""
    times = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return statistics.median(times[1:])


def whole_commands(folder: str) -> list[tuple[str, float, float]]:
    """(what, ratio, wanted): whole processes against an empty one or against importing the libraries."""
    validate = [PYTHON, "-m", "validate"]
    bare, libraries = seconds(BARE), seconds(LIBRARIES)
    return [
        ("validate --help / bare Python", seconds([*validate, "--help"]) / bare, 15),
        ("validate check demo / bare Python", seconds([*validate, "check", DEMO]) / bare, 60),
        (
            "process start to demo HTML / importing numpy, pandas, scipy.stats, matplotlib",
            seconds([*validate, "dossier", DEMO, "--out", folder, "--no-pdf"]) / libraries,
            3,
        ),
    ]


def memory_megabytes(folder: str) -> float:
    """Peak resident memory of the whole demo, PDF included."""
    subprocess.run(
        [PYTHON, "-m", "validate", "dossier", DEMO, "--out", folder],
        cwd=ROOT,
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def large_protocol(folder: Path, rows: int) -> Path:
    """A recovery study with `rows` results on 5 levels and 100 days; constructed, for speed only."""
    import numpy as np

    rng = np.random.default_rng(20310303)
    levels = np.array([1, 2, 5, 10, 40])
    level = np.repeat(levels, rows // 5)
    day = np.tile(np.arange(rows // 5) % 100, 5)
    found = level * (0.92 + 0.08 * rng.standard_normal(len(level)))
    lines = [f"S{i:06d},{a},d{d:03d},{f:.4f}" for i, (a, d, f) in enumerate(zip(level, day, found, strict=True))]
    (folder / "recovery.csv").write_text("sample,added,day,found\n" + "\n".join(lines) + "\n", encoding="utf-8")
    (folder / "protocol.yaml").write_text(
        """format: 1
id: SPEED-01
edition: 1
title: Constructed data for timing
issued: 2031-03-03
origin: {data: invented, statement: constructed for timing}
laboratory: Alder Ridge Growers' Laboratory (fictional)
purpose: validation
intended_use: quantitative
method: {measurand: ochratoxin A, matrix: green coffee, basis: as received, unit: µg/kg, scope: {from: 1, to: 40}}
use: eu-2023-2782
studies:
  recovery-large:
    kind: recovery
    design: {levels: [1, 2, 5, 10, 40], days: 100, replicates: __REPLICATES__}
    contamination: spiked before extraction
    data: {file: recovery.csv}
    accept:
      mean_recovery: {per: level}
      rsd_r: {per: level}
      rsd_intermediate: {per: level}
""".replace("__REPLICATES__", str(rows // 5 // 100)),
        encoding="utf-8",
    )
    return folder


def large_table_seconds(rows: int = 200_000) -> tuple[float, float]:
    """Seconds to prepare (read, type, check) and to evaluate a table of `rows` rows, imports done."""
    from validate.pipeline import evaluate, prepare

    with tempfile.TemporaryDirectory() as folder:
        large = large_protocol(Path(folder), rows)
        evaluate(prepare(large_protocol(Path(folder), 500)))
        large_protocol(Path(folder), rows)
        return _timed(lambda: prepare(large)), _timed(lambda: evaluate(prepare(large)))


def year_of_runs(folder: Path, results: int, runs: int) -> Path:
    """`results` results with times of their own in `runs` runs of a year of 12 h days; constructed, for speed only."""
    import numpy as np

    rng = np.random.default_rng(20310303)
    start = np.datetime64("2031-01-01T07:00") + np.arange(runs) * np.timedelta64(365 * 24 * 60 // runs, "m")
    log = [
        f"R{i},F-{i % 3},{s - 60},{0.1 * r:.1f},{s - 20},{s.astype('datetime64[D]') - int(o)},"
        f"2031-12-{1 + i % 28:02d},{s},{s + 240}"
        for i, (s, r, o) in enumerate(zip(start, rng.integers(0, 4, runs), rng.integers(0, 40, runs), strict=True))
    ]
    columns = "run,instrument,calibrated,reagent_blank,developer_mixed,concentrate_opened,column_expires,start,end"
    (folder / "runs.csv").write_text(columns + "\n" + "\n".join(log) + "\n", encoding="utf-8")
    of_run = np.sort(rng.integers(0, runs, results))
    read = start[of_run] + rng.integers(0, 241, results)
    lines = [f"d{i % 100},R{i},{t},{900 + k % 7}" for k, (i, t) in enumerate(zip(of_run, read, strict=True))]
    (folder / "results.csv").write_text("day,run,read_at,result\n" + "\n".join(lines) + "\n", encoding="utf-8")
    (folder / "protocol.yaml").write_text(
        """format: 1
id: SPEED-02
title: Constructed data for timing
issued: 2031-03-03
laboratory: Example laboratory (fictional)
purpose: verification
intended_use: quantitative
method: {measurand: deoxynivalenol, matrix: wheat, unit: µg/kg}
readiness:
  source: own
  calibration: {not_older_than: 4 h}
  reagent_blank: {at_most: 0.2}
  shelf_life: {developer: 4 h, concentrate: 30 d}
  expiry: [column]
  when_not_ready: exclude
runs: {file: runs.csv, time_zone: Europe/Vienna}
studies:
  spread:
    kind: precision
    data: {file: results.csv}
    design: {kind: one-way, outer: {column: day, called: day}, groups: 100, replicates: 10}
""",
        encoding="utf-8",
    )
    return folder


def readiness_seconds(results: int = 100_000, runs: int = 2_000) -> tuple[float, float]:
    """Seconds to read the protocol and its tables, and seconds in which the run log is read and all is judged."""
    from validate.pipeline import prepare
    from validate.pipeline.readying import ready

    with tempfile.TemporaryDirectory() as folder:
        prepared = prepare(year_of_runs(Path(folder), 100, 20))
        year_of_runs(Path(folder), results, runs)
        whole = _timed(lambda: prepare(Path(folder)))
        readings = {name: replace(r, exclusions=(), excluded=()) for name, r in prepare(Path(folder)).readings.items()}
        return whole, _timed(lambda: ready(prepared.loaded, readings, []))


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def weighted_lines_ratio(analytes: int = 10_000) -> float:
    """A loop over a general regression class against one call for all lines; constructed data, for speed only.

    The loop reads coefficients and standard errors alone; the call gives limits and r² as well.
    """
    import numpy as np
    import statsmodels.api as sm

    from validate.stats.regression import lines

    rng = np.random.default_rng(20310303)
    x = np.array([1.0, 2, 5, 10, 20, 40, 60, 80])
    weights = np.tile(1 / x**2, (analytes, 1))
    y = 1 + 3 * x + 0.05 * x * rng.standard_normal((analytes, len(x)))
    design = sm.add_constant(x)

    def one_by_one() -> list[tuple[object, object]]:
        fits = (sm.WLS(signals, design, weights=w).fit() for signals, w in zip(y, weights, strict=True))
        return [(fit.params, fit.bse) for fit in fits]

    lines(x, y, weights)
    together = statistics.median(_timed(lambda: lines(x, y, weights)) for _ in range(4 * RUNS + 1))
    return _timed(one_by_one) / together


def slopes_by_ranks_ratio(pairs: int = 5_000) -> float:
    """A general library's median of slopes against the line by ranks of the same pairs; constructed, for speed only."""
    from scipy.stats import theilslopes

    from validate.stats.comparison import passing_bablok

    x, y = _pairs_of_methods(pairs)
    passing_bablok(x[:1000], y[:1000])
    here = statistics.median(_timed(lambda: passing_bablok(x, y)) for _ in range(RUNS))
    return _timed(lambda: theilslopes(y, x)) / here


def slopes_by_ranks_megabytes(pairs: int = 10_000) -> float:
    """Peak resident memory of a process of its own that draws the line by ranks."""
    code = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r}); import run;"
        "from validate.stats.comparison import passing_bablok;"
        f"passing_bablok(*run._pairs_of_methods({pairs}));"
        # The peak that getrusage tells is inherited from the parent process.
        "print(next(int(l.split()[1]) for l in open('/proc/self/status') if l.startswith('VmHWM')) / 1024)"
    )
    return float(subprocess.run([PYTHON, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True).stdout)


def _pairs_of_methods(pairs: int) -> tuple[object, object]:
    import numpy as np

    rng = np.random.default_rng(20310303)
    x = rng.uniform(1, 100, pairs)
    return np.round(x, 1), np.round(1.02 * x + rng.normal(0, 3, pairs), 1)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for what, ratio, wanted in whole_commands(folder):
            print(f"{what}: {ratio:.1f} (wanted: at most {wanted})")
        print(f"peak memory of the demo with PDF: {memory_megabytes(folder):.0f} MB (wanted: below 400)")
    prepared, evaluated = large_table_seconds()
    print(f"200,000 rows: read and checked in {prepared:.2f} s", end=", ")
    print(f"read, checked and evaluated in {evaluated:.2f} s (wanted: evaluation below 3)")
    whole, judged = readiness_seconds()
    print(f"100,000 results in 2,000 runs: read and judged in {whole:.2f} s", end=", ")
    print(f"of which the log and all judgements {judged:.2f} s (wanted: below 2)")
    import carried

    print(*carried.figures(), sep="\n")
    lines_ratio = weighted_lines_ratio()
    print(f"10,000 weighted lines, statsmodels WLS one by one / one call: {lines_ratio:.0f} (wanted: at least 300)")
    ranks = slopes_by_ranks_ratio()
    print(f"5,000 pairs, scipy theilslopes / line by ranks: {ranks:.0f} (wanted: at least 10)")
    print(f"peak memory, line by ranks of 10,000 pairs: {slopes_by_ranks_megabytes():.0f} MB (wanted: below 500)")
    import rounds

    print(*rounds.told(), sep="\n")


if __name__ == "__main__":
    main()
