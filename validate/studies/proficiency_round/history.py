"""A laboratory's scores over rounds, from the evaluations of earlier rounds. Their bytes are not trusted."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.submitted import natural
from validate.studies.proficiency_round.tables import SCORES
from validate.vocabulary.evaluation import ResultTable, TableColumn

KIND = "proficiency_round"
FEWEST_FOR_A_SUM = 3
MOST_TEXT = 80


class NotARound(ValueError):
    """The file is no evaluation of a round; the message says why."""


@dataclass(frozen=True)
class Past:
    """One score of an earlier round."""

    round: str
    laboratory: str
    target: str
    z: float | None
    outcome: str


def past_of(content: bytes) -> tuple[Past, ...]:
    """The scores in an evaluation.json; NotARound when it holds none."""
    try:
        evaluation = json.loads(content)
    except (ValueError, RecursionError):
        raise NotARound("it is no evaluation.json") from None
    studies = evaluation.get("studies") if isinstance(evaluation, dict) else None
    if not isinstance(studies, list):
        raise NotARound("it is no evaluation.json")
    rounds = [study for study in studies if isinstance(study, dict) and study.get("kind") == KIND]
    if not rounds:
        raise NotARound("it holds no scores of a proficiency round")
    return tuple(past for study in rounds for past in _of(study))


def _of(study: Mapping[str, Any]) -> list[Past]:
    try:
        result = study["as_reported"]
        name = str(result["facts"]["round"])[:MOST_TEXT]
        table = next(t for t in result["tables"] if t["name"] == SCORES)
        titles = [column["title"] for column in table["columns"]]
        at = {title: titles.index(title) for title in ("laboratory", "target", "z", "outcome")}
        rows = [[row[at[title]] for title in ("laboratory", "target", "z", "outcome")] for row in table["rows"]]
    except (KeyError, TypeError, ValueError, IndexError, StopIteration):
        raise NotARound("its scores are not in the form that this version reads") from None
    return [
        Past(
            name,
            str(lab)[:MOST_TEXT],
            str(target)[:MOST_TEXT],
            float(z) if isinstance(z, (int, float)) and math.isfinite(z) else None,
            str(outcome)[:MOST_TEXT],
        )
        for lab, target, z, outcome in rows
    ]


def past_rounds(settings: ProficiencyRoundSettings, files: Mapping[str, bytes]) -> tuple[Past, ...]:
    """Scores of all earlier rounds that can be read, in the order of the protocol."""
    found: list[Past] = []
    for name in settings.earlier_rounds:
        if name in files:
            found += past_of(files[name])
    return tuple(found)


def reduced(content: bytes, codes: tuple[str, ...]) -> bytes:
    """An earlier evaluation with nothing left but the scores of `codes`, in their order; it reads as before."""
    past = past_of(content)
    own = sorted((each for each in past if each.laboratory in set(codes)), key=_by_code)
    titles = ("laboratory", "target", "z", "outcome")
    studies = []
    for name in dict.fromkeys(each.round for each in past):
        rows = [[each.laboratory, each.target, each.z, each.outcome] for each in own if each.round == name]
        table = {"name": SCORES, "columns": [{"title": title} for title in titles], "rows": rows}
        studies.append({"kind": KIND, "as_reported": {"facts": {"round": name}, "tables": [table]}})
    return json.dumps({"format": 1, "studies": studies}, ensure_ascii=False, indent=1).encode("utf-8")


def _by_code(past: Past) -> tuple[Any, ...]:
    return natural(past.laboratory)


def history_tables(past: tuple[Past, ...], codes: tuple[str, ...]) -> tuple[ResultTable, ...]:
    """Earlier scores of the laboratories of this round, and what they add up to."""
    own = [each for each in past if each.laboratory in set(codes)]
    if not own:
        return ()
    own.sort(key=_by_code)
    rows = tuple((each.laboratory, each.round, each.target, each.z, each.outcome) for each in own)
    text = [TableColumn(title=title, kind="text") for title in ("laboratory", "round", "target")]
    earlier = ResultTable(
        name="history",
        title="Scores in earlier rounds",
        columns=(*text, TableColumn(title="z"), TableColumn(title="outcome", kind="text")),
        rows=rows,
        note="A code means the same laboratory only if the organiser kept it over the rounds",
    )
    sums = _sums(own)
    return (earlier, sums) if sums else (earlier,)


def _sums(own: list[Past]) -> ResultTable | None:
    """Sums over one measurand at a time: scores of different ones do not add up to anything."""
    taken: dict[tuple[str, str], list[float]] = {}
    for each in own:
        if each.z is not None:
            taken.setdefault((each.laboratory, _measurand(each.target)), []).append(each.z)
    rows = [
        (lab, measurand, len(z), math.fsum(z) / math.sqrt(len(z)), math.fsum(v * v for v in z))
        for (lab, measurand), z in taken.items()
        if len(z) >= FEWEST_FOR_A_SUM
    ]
    if not rows:
        return None
    named = any(row[1] for row in rows)
    columns = (
        TableColumn(title="laboratory", kind="text"),
        *((TableColumn(title="measurand", kind="text"),) if named else ()),
        TableColumn(title="scores"),
        TableColumn(title="Σz/√n"),
        TableColumn(title="Σz²"),
    )
    return ResultTable(
        name="sums",
        title="Earlier scores taken together",
        columns=columns,
        rows=tuple(row if named else (row[0], *row[2:]) for row in rows),
        note="A warning: Σz/√n beyond ±2 points at a lasting bias only if the scores are independent, and samples of "
        "one round often are not; opposite errors cancel in it, and one blunder dominates Σz². Read the single scores "
        "first",
    )


def _measurand(target: str) -> str:
    """`DON` of `DON, S1`; empty where a round has one measurand."""
    return target.rpartition(", ")[0]
