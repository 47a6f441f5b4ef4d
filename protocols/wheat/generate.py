"""Make the invented data of this demo: `python generate.py` writes the tables beside itself.

The generator knows what is in the samples and how each method measures, and nothing of
scores or signals. Its parameters were set once, the seed was taken once, and the outcome
was kept whatever it was. Which laboratories make a blunder and which report a limit
instead of a number was set beforehand, by their place in the list.

A result is
    content · share(method) · (1 + laboratory + sample),
with normal laboratory and sample effects whose SDs depend on the method, reported to the
laboratory's own step. Reported uncertainties are the laboratory's own opinion: a share
of the result between 10 and 45 %.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

SEED = 20310303
FOLDER = Path(__file__).parent
CONTENT = {"W1": 620.0, "W2": 1480.0}
"""Deoxynivalenol in µg/kg."""
EARLIER_CONTENT = {"V1": 910.0}
METHODS = {
    "LC-MS/MS": (1.00, 0.08, 0.05),
    "antibody plate": (1.06, 0.11, 0.08),
    "strip reader": (0.97, 0.15, 0.12),
}
"""Name: share of the content that it finds, SD between laboratories, SD between samples, as shares."""
LABORATORIES = {"LC-MS/MS": 13, "antibody plate": 12, "strip reader": 9}
STEPS = {"LC-MS/MS": 1.0, "antibody plate": 1.0, "strip reader": 10.0}
LOQ = {"LC-MS/MS": 20.0, "antibody plate": 150.0, "strip reader": 250.0}
CENSORED = {(21, "W1"): "<500", (27, "W1"): "<250", (30, "W1"): "<1000", (33, "W2"): "<1000"}
"""Laboratories (by place) that report a limit: three of the four contradict or cannot be compared."""
TEN_TIMES, EXCHANGED = 5, 17
IN_MG = (2, 9)
COMMENTS = {
    3: "Column was changed the day before",
    11: "Sample W2 arrived with a torn bag",
    17: "New colleague prepared both samples, please keep this between us",
    30: "Our kit reads up to 1000 only; we know it is too little",
}
HEADER = ("laboratory", "sample", "result", "unit", "method", "uncertainty", "k", "loq", "comment")


@dataclass(frozen=True)
class Laboratory:
    code: str
    method: str
    effect: float
    own_share: float
    """U as a share of its result; 0 for none."""


def laboratories(rng: np.random.Generator) -> list[Laboratory]:
    """Thirty-four laboratories with codes that tell nothing, in the order in which they registered."""
    letters, digits = list("BDFHKMNRTX"), rng.permutation(np.arange(200, 990))[: sum(LABORATORIES.values())]
    codes = [f"{letters[rng.integers(len(letters))]}{letters[rng.integers(len(letters))]}{n}" for n in digits]
    methods = [name for name, count in LABORATORIES.items() for _ in range(count)]
    methods = [methods[i] for i in rng.permutation(len(methods))]
    made = []
    for code, method in zip(codes, methods, strict=True):
        effect = rng.normal(0, METHODS[method][1])
        share = 0.0 if rng.random() < 0.3 else float(rng.uniform(0.10, 0.45))
        made.append(Laboratory(code, method, effect, share))
    return made


def rows(labs: list[Laboratory], content: dict[str, float], rng: np.random.Generator) -> list[tuple[str, ...]]:
    """One row for each laboratory and sample, blunders and limits included."""
    made = []
    for place, lab in enumerate(labs):
        share, _, between = METHODS[lab.method]
        found = {s: c * share * (1 + lab.effect + rng.normal(0, between)) for s, c in content.items()}
        if place == EXCHANGED and len(found) == 2:
            found = dict(zip(found, reversed(found.values()), strict=True))
        if place == TEN_TIMES:
            found = {sample: value / 10 if sample == "W2" else value for sample, value in found.items()}
        for sample, value in found.items():
            made.append(row(place, lab, sample, value))
    return made


def row(place: int, lab: Laboratory, sample: str, value: float) -> tuple[str, ...]:
    step = STEPS[lab.method]
    value = round(value / step) * step
    scale, unit = (1000, "mg/kg") if place in IN_MG else (1, "")
    limit = CENSORED.get((place, sample))
    own = lab.own_share * value
    return (
        lab.code,
        sample,
        limit or f"{value / scale:g}",
        "" if limit else unit,
        lab.method,
        "" if limit or not own else f"{own / scale:.3g}" if unit else f"{own:.0f}",
        "2" if own and not limit else "",
        f"{LOQ[lab.method] / scale:g}",
        COMMENTS.get(place, "") if sample != "W1" else "",
    )


def homogeneity(rng: np.random.Generator) -> list[tuple[str, ...]]:
    """Twelve bags of the material of W1, each measured twice."""
    made, order = [], np.sort(rng.permutation(np.arange(1, 61))[:12])
    for bag in range(1, 13):
        content = CONTENT["W1"] * (1 + rng.normal(0, 0.012))
        for replicate in (1, 2):
            made.append(
                (f"B{bag:02d}", str(order[bag - 1]), str(replicate), f"{content * (1 + rng.normal(0, 0.03)):.0f}")
            )
    return made


def write(name: str, header: tuple[str, ...], lines: list[tuple[str, ...]]) -> None:
    path = FOLDER / name
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows([header, *lines])


def main() -> None:
    rng = np.random.default_rng(SEED)
    labs = laboratories(rng)
    arrived = rng.permutation(2 * len(labs))
    made = rows(labs, CONTENT, rng)
    write("results.csv", HEADER, [made[i] for i in arrived])
    write("earlier/2030-2/results.csv", HEADER, rows(labs[:26], EARLIER_CONTENT, rng))
    write("homogeneity.csv", ("unit", "order", "replicate", "result"), homogeneity(rng))


if __name__ == "__main__":
    main()
