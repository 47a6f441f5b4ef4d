"""Make the invented data of this demo: `python generate.py` writes the tables beside itself.

The generator knows the true method and nothing of criteria or verdicts. Its parameters
were set once, the seed (the protocol's date of issue and a 3) was taken once, and the
outcome was kept whatever it was.

A reading is
    content · recovery(level) · (1 + day + analyst) + scatter,
rounded to the step of the display and never below its floor. Day and analyst effects are
the same for every level of one day; the scatter is normal with
    sd = √(SCATTER_FLOOR² + (SCATTER_SHARE · content · recovery)²).
Standards are read without extraction and column: the display shows
    content · (STANDARD_GAIN − STANDARD_QUENCHING · content) + scatter,
whose relative part is STANDARD_SHARE.
"""

from __future__ import annotations

import csv
import datetime as dt
from math import hypot
from pathlib import Path

import numpy as np

Row = dict[str, str]
Analysts = dict[str, float]
Days = dict[dt.date, float]

SEED = 20310303
FOLDER = Path(__file__).parent

TRUE_RECOVERY = {"1": 0.86, "2.5": 0.89, "5": 0.91, "15": 0.92, "40": 0.90}
"""Spiked content in µg/kg → share that the true method finds."""
NATIVE_CONTENT = 3.9
NATIVE_RECOVERY = 0.87
"""Grown-in ochratoxin A in µg/kg, and the share of it that extraction reaches."""
SCATTER_FLOOR = 0.07
SCATTER_SHARE = 0.065
DAY_SD = 0.05
ANALYST_SD = 0.03
RESOLUTION = 0.1
FLOOR = 0.0

RECOVERY_DAYS = tuple(dt.date(2031, 3, day) for day in (10, 11, 13, 17, 19, 20))
NATIVE_DAYS = tuple(dt.date(2031, 3, day) for day in (10, 11, 13, 17, 19, 20, 24, 25))
ANALYSTS = ("M. Vale", "T. Orr")
REPLICATES = 2
RUNS = {day: f"RUN-{number:02d}" for number, day in enumerate(NATIVE_DAYS, start=1)}
SOLVENT_MIXED = {day: dt.date(2031, 3, 10 if day.day < 20 else 20) for day in NATIVE_DAYS}
LOTS = {10: "C-0931", 11: "C-0931", 13: "C-0931", 17: "C-0947", 19: "C-0947", 20: "C-0947", 24: "C-0947", 25: "C-0947"}

STANDARDS = ("1", "2.5", "5", "10", "20", "40")
"""Standards in eluate, named by the content of a sample that would give them, in µg/kg."""
STANDARD_DAY = dt.date(2031, 3, 7)
STANDARD_PREPARATIONS = 3
STANDARD_GAIN = 1.01
STANDARD_QUENCHING = 0.0006
"""The display shows a little too much at low and too little at high contents, per µg/kg."""
STANDARD_SHARE = 0.02

LOW_LEVELS = ("0", "0.3", "0.5", "1")
"""Blanks and low spikes in µg/kg, on the days of the recovery study."""
LOW_RECOVERY = 0.86
LOW_REPLICATES = 4

LOST_POINT = 22
"""Position of the reading whose decimal point was lost when it was written down."""
DRY_COLUMN = 48
DRY_COLUMN_SHARE = 0.4
"""Position of the test portion whose column ran dry, and the share of analyte that it kept."""


def main() -> None:
    """Draw everything from one stream, in a fixed order."""
    random = np.random.default_rng(SEED)
    analyst_effects = dict(zip(ANALYSTS, random.normal(0, ANALYST_SD, len(ANALYSTS)), strict=True))
    day_effects = dict(zip(NATIVE_DAYS, random.normal(0, DAY_SD, len(NATIVE_DAYS)), strict=True))
    write("recovery.csv", recovery_rows(random, analyst_effects, day_effects))
    write("native.csv", native_rows(random, analyst_effects, day_effects))
    write("runs.csv", run_rows(random, analyst_effects, day_effects))
    write("standards.csv", standard_rows(random))
    write("low.csv", low_rows(random, analyst_effects, day_effects))


def recovery_rows(random: np.random.Generator, analysts: Analysts, days: Days) -> list[Row]:
    """Every level twice a day in random order; the analysts take turns by day."""
    rows: list[Row] = []
    for number, day in enumerate(RECOVERY_DAYS):
        analyst = ANALYSTS[number % 2]
        portions = [(level, replicate) for level in TRUE_RECOVERY for replicate in range(1, REPLICATES + 1)]
        for level, replicate in (portions[i] for i in random.permutation(len(portions))):
            share = DRY_COLUMN_SHARE if len(rows) == DRY_COLUMN else 1.0
            true = float(level) * TRUE_RECOVERY[level] * share * (1 + days[day] + analysts[analyst])
            text = read(random, true)
            rows.append({
                "sample": f"R-{len(rows) + 1:03d}",
                "day": day.isoformat(),
                "run": RUNS[day],
                "analyst": analyst,
                "spiked": level,
                "replicate": str(replicate),
                "result": text.replace(".", "") if len(rows) == LOST_POINT else text,
                "column_lot": LOTS[day.day],
                "instrument": "F-1",
            })  # fmt: skip
    return rows


def native_rows(random: np.random.Generator, analysts: Analysts, days: Days) -> list[Row]:
    """One naturally contaminated lot, both replicates of a day by the analyst of that day."""
    rows: list[Row] = []
    for number, day in enumerate(NATIVE_DAYS):
        analyst = ANALYSTS[number % 2]
        for replicate in range(1, REPLICATES + 1):
            true = NATIVE_CONTENT * NATIVE_RECOVERY * (1 + days[day] + analysts[analyst])
            rows.append({
                "sample": f"N-{len(rows) + 1:03d}",
                "day": day.isoformat(),
                "run": RUNS[day],
                "analyst": analyst,
                "replicate": str(replicate),
                "result": read(random, true),
                "column_lot": LOTS[day.day],
                "instrument": "F-1",
            })  # fmt: skip
    return rows


def run_rows(random: np.random.Generator, analysts: Analysts, days: Days) -> list[Row]:
    """The run log: one bench session a day."""
    rows = []
    for number, day in enumerate(NATIVE_DAYS):
        analyst = ANALYSTS[number % 2]
        rows.append({
            "run": RUNS[day],
            "date": day.isoformat(),
            "measured_by": analyst,
            "checked_by": ANALYSTS[(number + 1) % 2],
            "instrument": "F-1",
            "firmware": "2.4",
            "calibrated": f"{day.isoformat()} 08:{10 + int(random.integers(0, 30)):02d}",
            "check_standard": read(random, 10.0 * (1 + days[day])),
            "reagent_blank": read(random, 0.0),
            "column_lot": LOTS[day.day],
            "column_lot_expires": "2032-01-31",
            "developer_mixed": f"{day.isoformat()} 08:{40 + int(random.integers(0, 15)):02d}",
            "extraction_solvent_mixed": SOLVENT_MIXED[day].isoformat(),
            "first_reading": f"{day.isoformat()} 09:{30 + int(random.integers(0, 25)):02d}",
            "last_reading": f"{day.isoformat()} 12:{5 + int(random.integers(0, 50)):02d}",
        })  # fmt: skip
    return rows


def standard_rows(random: np.random.Generator) -> list[Row]:
    """Independent preparations of every standard on one day, in random order, by one analyst."""
    rows: list[Row] = []
    vials = [(level, number) for level in STANDARDS for number in range(1, STANDARD_PREPARATIONS + 1)]
    for level, number in (vials[i] for i in random.permutation(len(vials))):
        content = float(level)
        true = content * (STANDARD_GAIN - STANDARD_QUENCHING * content)
        rows.append({
            "sample": f"S-{len(rows) + 1:02d}",
            "day": STANDARD_DAY.isoformat(),
            "analyst": ANALYSTS[0],
            "nominal": level,
            "preparation": str(number),
            "shown": read(random, true, STANDARD_SHARE),
            "instrument": "F-1",
        })  # fmt: skip
    return rows


def low_rows(random: np.random.Generator, analysts: Analysts, days: Days) -> list[Row]:
    """Blanks and low spikes in random order within each day; the analysts take turns by day."""
    rows: list[Row] = []
    for number, day in enumerate(RECOVERY_DAYS):
        analyst = ANALYSTS[number % 2]
        portions = [level for level in LOW_LEVELS for _ in range(LOW_REPLICATES)]
        for level in (portions[i] for i in random.permutation(len(portions))):
            true = float(level) * LOW_RECOVERY * (1 + days[day] + analysts[analyst])
            rows.append({
                "sample": f"L-{len(rows) + 1:03d}",
                "day": day.isoformat(),
                "run": RUNS[day],
                "analyst": analyst,
                "spiked": level,
                "result": read(random, true),
                "column_lot": LOTS[day.day],
                "instrument": "F-1",
            })  # fmt: skip
    return rows


def read(random: np.random.Generator, true: float, share: float = SCATTER_SHARE) -> str:
    """What the display shows for a true signal."""
    signal = true + random.normal(0, hypot(SCATTER_FLOOR, share * true))
    return f"{max(FLOOR, round(signal / RESOLUTION) * RESOLUTION):.1f}"


def write(name: str, rows: list[Row]) -> None:
    """A CSV file with a header, in UTF-8 with plain line ends."""
    with (FOLDER / name).open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
