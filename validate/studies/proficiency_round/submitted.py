"""What the laboratories sent in, as arrays: rows are targets, columns are laboratories."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.targets import LOQ_BEFORE, U_BEFORE, Target
from validate.tables.table import Table
from validate.vocabulary.quantity import conversion_factor

if TYPE_CHECKING:
    import pandas as pd

BELOW, ABOVE = "below", "above"
USUAL_K = 2.0


@dataclass(frozen=True)
class Censored:
    """A result that is only known to lie below or above a limit; `limit` None for `n.d.` without one."""

    side: str
    limit: float | None
    text: str


@dataclass(frozen=True)
class Submitted:
    """Results in the unit of their target; NaN where a laboratory gave no number."""

    laboratories: tuple[str, ...]
    targets: tuple[Target, ...]
    results: np.ndarray
    replicates: np.ndarray
    spread: np.ndarray
    """Standard deviation of a laboratory's replicates; NaN for one result."""
    U: np.ndarray
    k: np.ndarray
    k_assumed: np.ndarray
    loq: np.ndarray
    methods: np.ndarray
    censored: dict[tuple[int, int], Censored]
    comments: tuple[tuple[str, str], ...]
    """Laboratory and comment, in the order of codes."""
    factors: dict[tuple[int, int], str]
    """Results that came in another unit, and which."""
    rows: np.ndarray
    """First file row of each result; 0 where there is none."""
    file: str

    @property
    def u(self) -> np.ndarray:
        return self.U / self.k

    def numbers(self, target: int) -> np.ndarray:
        """Results with a number in ascending order, so that no figure depends on the codes, not in its last digit."""
        row = self.results[target]
        return np.sort(row[~np.isnan(row)])

    def censored_of(self, target: int) -> dict[int, Censored]:
        return {lab: mark for (at, lab), mark in self.censored.items() if at == target}


def submitted(settings: ProficiencyRoundSettings, targets: tuple[Target, ...], table: Table) -> Submitted:
    """Arrays from a checked table; units and samples are known to fit. Laboratories stand in the order of codes."""
    long = _long(table, targets) if settings.layout == "long" else _unpivoted(table, targets)
    frame = _in_order(long[long["target"] >= 0])
    codes = sorted(set(long["laboratory"]), key=natural)
    index = {code: i for i, code in enumerate(codes)}
    lab = frame["laboratory"].map(index).to_numpy(dtype=np.intp)
    at = frame["target"].to_numpy(dtype=np.intp)
    shape = (len(targets), len(codes))
    cell = at * shape[1] + lab
    factor, other = _factors(frame, targets)
    values = frame["result"].to_numpy(dtype=float) * factor
    known = ~np.isnan(values)
    count = np.bincount(cell[known], minlength=shape[0] * shape[1])
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(cell[known], values[known], shape[0] * shape[1]) / count
        squares = np.bincount(cell[known], (values[known] - mean[cell[known]]) ** 2, shape[0] * shape[1])
        spread = np.where(count > 1, np.sqrt(squares / (count - 1)), np.nan)
    arrays = {
        name: _first(cell, frame[name].to_numpy(dtype=float) * scale, shape)
        for name, scale in (("uncertainty", factor), ("k", 1.0), ("loq", factor))
    }
    rows = np.zeros(shape[0] * shape[1], dtype=np.intp)
    rows[cell[::-1]] = frame["row"].to_numpy(dtype=np.intp)[::-1]
    methods = np.full(shape[0] * shape[1], "", dtype=object)
    methods[cell[::-1]] = frame["method"].to_numpy(dtype=object)[::-1]
    k_assumed = ~np.isnan(arrays["uncertainty"]) & ~(arrays["k"] > 0)
    return Submitted(
        laboratories=tuple(codes),
        targets=targets,
        results=mean.reshape(shape),
        replicates=count.reshape(shape),
        spread=spread.reshape(shape),
        U=arrays["uncertainty"],
        k=np.where(arrays["k"] > 0, arrays["k"], USUAL_K),
        k_assumed=k_assumed,
        loq=arrays["loq"],
        methods=methods.reshape(shape),
        censored=_censored(frame, factor, lab, at, count.reshape(shape), arrays["loq"]),
        comments=_comments(long),
        factors={(int(at[i]), int(lab[i])): str(frame["unit"].iat[i]) for i in np.flatnonzero(other)},
        rows=rows.reshape(shape),
        file=table.file,
    )


def _in_order(frame: pd.DataFrame) -> pd.DataFrame:
    """Replicates in their order: which uncertainty, unit or method comes first does not depend on the file's rows."""
    if (frame["replicate"] == "").all():
        return frame
    return frame.assign(key=frame["replicate"].map(natural)).sort_values("key", kind="stable")


def natural(code: str) -> tuple[Any, ...]:
    """Sorting key: L2 before L10."""
    import re

    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"([0-9]+)", code) if part)


def _long(table: Table, targets: tuple[Target, ...]) -> pd.DataFrame:
    import pandas as pd

    frame = table.frame
    several = len({target.measurand for target in targets}) > 1 or "measurand" in frame
    keys = {(target.measurand, target.sample): i for i, target in enumerate(targets)}
    only = {target.sample: i for i, target in enumerate(targets)}
    if several and "measurand" in frame:
        labels = list(zip(frame["measurand"], frame["sample"], strict=True))
        target = [keys.get(label, only.get(label[1], -1) if not label[0] else -1) for label in labels]
    else:
        target = frame["sample"].map(only).fillna(-1).astype(int)
    made = pd.DataFrame({"laboratory": frame["laboratory"], "target": target, "row": frame.index}, index=frame.index)
    for name, empty in (
        ("result", math.nan),
        ("uncertainty", math.nan),
        ("k", math.nan),
        ("loq", math.nan),
        ("unit", ""),
        ("method", ""),
        ("comment", ""),
        ("replicate", ""),
    ):
        made[name] = frame.get(name, empty)
    made["mark"] = table.marks.get("result", "")
    return made


def _unpivoted(table: Table, targets: tuple[Target, ...]) -> pd.DataFrame:
    import pandas as pd

    parts = []
    for i, target in enumerate(targets):
        if target.label not in table.frame:
            continue
        part = pd.DataFrame({"laboratory": table.frame["laboratory"], "target": i, "row": table.frame.index})
        for name, role in (
            ("result", target.label),
            ("uncertainty", U_BEFORE + target.label),
            ("loq", LOQ_BEFORE + target.label),
            ("k", "k"),
        ):
            part[name] = table.frame.get(role, math.nan)
        for name in ("unit", "method", "comment", "replicate"):
            part[name] = table.frame.get(name, "")
        part["mark"] = table.marks[target.label]
        parts.append(part)
    return pd.concat(parts, ignore_index=True)


def _factors(frame: pd.DataFrame, targets: tuple[Target, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Factor of each row to the unit of its target, and which rows came in another unit."""
    known = {
        (unit, at): 1.0 if not unit else conversion_factor(unit, targets[at].unit)
        for unit, at in set(zip(frame["unit"], frame["target"], strict=True))
    }
    factors = np.fromiter((known[key] for key in zip(frame["unit"], frame["target"], strict=True)), float, len(frame))
    return factors, factors != 1.0


def _first(cell: np.ndarray, values: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """The first number that stands for each laboratory and target."""
    made = np.full(shape[0] * shape[1], np.nan)
    there = np.flatnonzero(~np.isnan(values))[::-1]
    made[cell[there]] = values[there]
    return made.reshape(shape)


def _censored(
    frame: pd.DataFrame, factor: np.ndarray, lab: np.ndarray, at: np.ndarray, count: np.ndarray, loq: np.ndarray
) -> dict[tuple[int, int], Censored]:
    found: dict[tuple[int, int], Censored] = {}
    marks = frame["mark"].to_numpy(dtype=object)
    for i in np.flatnonzero((marks != "") & (marks != "NA")):
        key, text = (int(at[i]), int(lab[i])), str(marks[i])
        if count[key] or key in found:
            continue
        side = ABOVE if text.startswith(">") else BELOW
        try:
            limit: float | None = float(text.lstrip("<>")) * factor[i]
        except ValueError:
            limit = float(loq[key]) if not np.isnan(loq[key]) else None
        found[key] = Censored(side, limit, text)
    return found


def _comments(frame: pd.DataFrame) -> tuple[tuple[str, str], ...]:
    said = {
        (code, text.strip()): None
        for code, text in zip(frame["laboratory"], frame["comment"], strict=True)
        if isinstance(text, str) and text.strip()
    }
    return tuple(sorted(said, key=lambda pair: (natural(pair[0]), pair[1])))
