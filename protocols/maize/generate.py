"""Make the invented data of this demo: `python generate.py` writes the tables beside itself.

The generator knows the true method and the true lots, and nothing of criteria or verdicts.
Its parameters were set once, the seed was taken once, and the outcome was kept whatever
it was.

A reading is
    content · lot · (1 + run) + scatter,
rounded to the step of the display and never below its floor. The effect of a run is the
same for everything that is read in it; the scatter is normal with
    sd = √(SCATTER_FLOOR² + (SCATTER_SHARE · content · lot)²).
On the two days on which the instrument was not ready its gain was off by NOT_READY.
After LAST only the run log goes on, with draws of its own: the lamp of the fluorometer ages, and
the gain falls by AGEING for each week.
"""

from __future__ import annotations

import csv
import datetime as dt
from math import hypot
from pathlib import Path

import numpy as np

Row = dict[str, str]

SEED = 20310303
FOLDER = Path(__file__).parent

LOTS = {"Z-0388": 1.00, "Z-0402": 0.98, "Z-0412": 0.97, "Z-0431": 0.96, "Z-0448": 0.94}
"""Lots of columns in the order of their use → what they read of the content; the first is the validation lot."""
LEVELS = {"30": 8, "100": 8, "300": 8}
"""Nominal level of zearalenone in µg/kg → samples of the equivalence design."""
CONTENT_SPREAD = 0.15
"""Relative spread of the contents of samples about their nominal level."""
CONTROL_CONTENT = 118.0
SCATTER_FLOOR = 2.0
SCATTER_SHARE = 0.06
RUN_SD = 0.04
STANDARD_CONTENT = 100.0
STANDARD_RECOVERY = 0.93
"""Share of a standard that passes the column and is found."""
BLANK_SD = 0.6
RESOLUTION = 1.0
FLOOR = 0.0

FIRST, LAST = dt.date(2031, 1, 7), dt.date(2031, 3, 31)
WEEKDAYS = (0, 2, 4)
"""Runs on Monday, Wednesday and Friday."""
NOT_READY = {dt.date(2031, 2, 12): 1.00, dt.date(2031, 3, 5): 0.86}
"""Days on which the instrument was not ready → its gain: no calibration on the first, an old lamp on the second."""
NOT_CALIBRATED = dt.date(2031, 2, 12)
CHANGES_OF_LOT = {FIRST: "Z-0412", dt.date(2031, 2, 24): "Z-0431", dt.date(2031, 5, 5): "Z-0448"}
"""Day → the lot that routine runs use from then on."""
LAST_OF_LOG = dt.date(2031, 6, 30)
GATE_RUNS = ("R-0303", "R-0307", "R-0310", "R-0312", "R-0314")
GATE_LEVELS = {"0": 4, "75": 2, "90": 2, "100": 4}
"""Level of the samples that show how deliveries are sorted → samples in each of GATE_RUNS; 0 is clean maize."""
GATE_CLEAN = (2.0, 18.0)
"""Range of the contents of clean maize."""
GATE_DELIVERIES = 20
GATE_CONTENTS = (40.0, 160.0)
"""Deliveries that a reference method measured as well, and the range of their contents."""
REFERENCE_SHARE = 0.05
"""Relative scatter of the reference method."""
AGEING = 0.01
"""Share of the gain that is lost in each week after LAST."""
EQUIVALENCE_DAY = dt.date(2031, 2, 19)
SHIFT_DAY = dt.date(2031, 3, 26)
SHIFT_PAIRS = ("30", "30", "100", "100", "300", "300")
ANALYSTS = ("K. Brandt", "L. Osei")
EARLIER = {"Z-0402": "Z-0388", "Z-0412": "Z-0402"}
"""Earlier lots, each compared with its predecessor in EARLIER_PAIRS pairs at each of the levels."""
EARLIER_PAIRS = 4


def main() -> None:
    """Draw everything from one stream, in a fixed order."""
    random = np.random.default_rng(SEED)
    days = [FIRST + dt.timedelta(n) for n in range((LAST - FIRST).days + 1)]
    days = [day for day in days if day.weekday() in WEEKDAYS]
    gains = {day: (1 + random.normal(0, RUN_SD)) * NOT_READY.get(day, 1.0) for day in days}
    log = run_rows(random, gains)
    write("control.csv", control_rows(random, gains))
    samples = [level for level, count in LEVELS.items() for _ in range(count)]
    both = ("Z-0412", "Z-0431")
    write("lot-Z-0431.csv", lot_rows(random, samples, both, gains[EQUIVALENCE_DAY], EQUIVALENCE_DAY))
    both = ("Z-0431", "Z-0448")
    write("lot-Z-0448.csv", lot_rows(random, list(SHIFT_PAIRS), both, gains[SHIFT_DAY], SHIFT_DAY))
    for new, current in EARLIER.items():
        levels = [level for level in LEVELS for _ in range(EARLIER_PAIRS)]
        gain = 1 + random.normal(0, RUN_SD)
        write(f"earlier/{new}/lots.csv", lot_rows(random, levels, (current, new), gain, None))
    write("gate.csv", gate_rows(np.random.default_rng([SEED, 3]), gains))
    later = np.random.default_rng([SEED, 2])
    write("runs.csv", log + run_rows(later, ageing_gains(later), after=len(log)))


def ageing_gains(random: np.random.Generator) -> dict[dt.date, float]:
    """The gain of every run after LAST, up to LAST_OF_LOG."""
    days = [LAST + dt.timedelta(n) for n in range(1, (LAST_OF_LOG - LAST).days + 1)]
    days = [day for day in days if day.weekday() in WEEKDAYS]
    return {day: (1 + random.normal(0, RUN_SD)) * (1 - AGEING * (day - LAST).days / 7) for day in days}


def lot_in_use(day: dt.date) -> str:
    return next(lot for first, lot in reversed(CHANGES_OF_LOT.items()) if first <= day)


def run_rows(random: np.random.Generator, gains: dict[dt.date, float], after: int = 0) -> list[Row]:
    """The run log: one session on each working day, `after` so many earlier ones."""
    rows = []
    calibrated = ""
    for number, (day, gain) in enumerate(gains.items(), start=after):
        if day != NOT_CALIBRATED:
            calibrated = f"{day.isoformat()} 07:{10 + int(random.integers(0, 40)):02d}"
        rows.append({
            "run": run_name(day),
            "day": day.isoformat(),
            "start": f"{day.isoformat()} 07:55",
            "end": f"{day.isoformat()} 12:10",
            "measured_by": ANALYSTS[number % 2],
            "checked_by": ANALYSTS[(number + 1) % 2],
            "instrument": "F-7",
            "firmware": "3.1",
            "calibrated": calibrated,
            "check_standard": read(random, STANDARD_CONTENT * gain, 0.01),
            "reagent_blank": blank(random),
            "column_lot": lot_in_use(day),
            "column_expires": "2031-12-31",
            "extraction_solvent_mixed": (day - dt.timedelta(day.weekday())).isoformat(),
            "first_reading": f"{day.isoformat()} 09:{20 + int(random.integers(0, 30)):02d}",
            "last_reading": f"{day.isoformat()} 11:{15 + int(random.integers(0, 40)):02d}",
        })  # fmt: skip
    return rows


def control_rows(random: np.random.Generator, gains: dict[dt.date, float]) -> list[Row]:
    """The control material twice in every run, with the lot in use."""
    rows: list[Row] = []
    for day, gain in gains.items():
        lot = lot_in_use(day)
        for replicate in ("1", "2"):
            rows.append({
                "portion": f"C-{len(rows) + 1:03d}",
                "run": run_name(day),
                "day": day.isoformat(),
                "column_lot": lot,
                "replicate": replicate,
                "result": read(random, CONTROL_CONTENT * LOTS[lot] * gain),
            })  # fmt: skip
    return rows


def lot_rows(
    random: np.random.Generator, levels: list[str], lots: tuple[str, str], gain: float, day: dt.date | None
) -> list[Row]:
    """Native samples, each with both lots in one run; then control, blank and standard with both."""
    rows = []
    run = {} if day is None else {"run": run_name(day)}
    for number, level in enumerate(levels, start=1):
        content = float(level) * (1 + random.normal(0, CONTENT_SPREAD))
        for lot in lots:
            text = read(random, content * LOTS[lot] * gain)
            rows.append(run | row(f"M-{number:02d}", level, lot, "sample", "", text))
    for lot in lots:
        for number in ("1", "2"):
            text = read(random, CONTROL_CONTENT * LOTS[lot] * gain)
            rows.append(run | row("control", "", lot, "control", "", text, number))
        rows.append(run | row("blank", "", lot, "blank", "", blank(random)))
        text = read(random, STANDARD_CONTENT * STANDARD_RECOVERY * gain, 0.02)
        rows.append(run | row("standard", "", lot, "standard", f"{STANDARD_CONTENT:g}", text))
    return rows


def gate_rows(random: np.random.Generator, gains: dict[dt.date, float]) -> list[Row]:
    """Samples of known content in five runs, then deliveries that a reference method measured as well."""
    rows: list[Row] = []
    days = {run_name(day): day for day in gains}
    for number in range(GATE_DELIVERIES + len(GATE_RUNS) * sum(GATE_LEVELS.values())):
        place = number - GATE_DELIVERIES
        run = GATE_RUNS[number % len(GATE_RUNS)]
        order = [level for level, count in GATE_LEVELS.items() for _ in range(count)]
        level = "" if place < 0 else order[place // len(GATE_RUNS)]
        content = random.uniform(*GATE_CONTENTS) if not level else float(level) or random.uniform(*GATE_CLEAN)
        reference = "" if level else f"{content * (1 + random.normal(0, REFERENCE_SHARE)):.0f}"
        lot = lot_in_use(days[run])
        rows.append({
            "sample": f"G-{number + 1:02d}",
            "run": run,
            "day": days[run].isoformat(),
            "measured_by": ANALYSTS[number % 2],
            "column_lot": lot,
            "level": level,
            "reference": reference,
            "result": read(random, content * LOTS[lot] * gains[days[run]]),
        })  # fmt: skip
    return rows


def row(sample: str, level: str, lot: str, what: str, added: str, result: str, replicate: str = "1") -> Row:
    return {
        "sample": sample,
        "level": level,
        "lot": lot,
        "replicate": replicate,
        "what": what,
        "added": added,
        "result": result,
    }


def run_name(day: dt.date) -> str:
    return f"R-{day:%m%d}"


def read(random: np.random.Generator, true: float, share: float = SCATTER_SHARE) -> str:
    """What the display shows for a true signal."""
    signal = true + random.normal(0, hypot(SCATTER_FLOOR, share * true))
    return f"{max(FLOOR, round(signal / RESOLUTION) * RESOLUTION):.0f}"


def blank(random: np.random.Generator) -> str:
    """What the display shows for a reagent blank."""
    return f"{max(FLOOR, round(abs(random.normal(0, BLANK_SD)) / RESOLUTION) * RESOLUTION):.0f}"


def write(name: str, rows: list[Row]) -> None:
    """A CSV file with a header, in UTF-8 with plain line ends."""
    path = FOLDER / name
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
