"""The quantification limit as the lowest level that meets the criteria on recovery and precision."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from validate.studies.contract import NeededFinding
from validate.studies.detection.approaches import Approach, Bench, missing, symbol
from validate.vocabulary.finding import Finding, LevelVerdict, Working
from validate.vocabulary.verdict import Evidence, Verdict

FORMULA = "lowest level at which every criterion on recovery and precision is met"
SOURCE = "verdicts of the studies named; the rule is common practice, no source"
ERRORS = "as the criteria at that level"
QUALITIES_IN_WORDS = {"trueness": ("mean_recovery",), "precision": ("rsd_r", "rsd_intermediate")}


def by_criteria(bench: Bench) -> Approach:
    """`loq_criteria` with the verdicts at every level that another study judged."""
    wanted = bench.settings.loq.findings
    needed = [each for each in bench.job.needed if each.finding.name in wanted and each.finding.level and each.verdicts]
    levels = sorted({each.finding.level for each in needed if each.finding.level}, key=float)
    judged = tuple(_at(level, [each for each in needed if each.finding.level == level], wanted) for level in levels)
    if not judged:
        reason = f"no study of this protocol judges {', '.join(wanted)} by level"
        return Approach(missing("loq_criteria", reason, bench, formula=FORMULA, source=SOURCE), "", ERRORS)
    meeting = next((each for each in judged if each.verdict is Verdict.MET), None)
    if meeting is None:
        told = "; ".join(f"level {each.level}: {each.why}" for each in judged)
        finding = missing("loq_criteria", f"no level is shown to meet its criteria ({told})", bench, formula=FORMULA,
                          source=SOURCE)  # fmt: skip
        return Approach(replace(finding, levels_judged=judged), "", ERRORS)
    value = float(meeting.level)
    at_level = [each for each in needed if each.finding.level == meeting.level]
    finding = Finding(
        name="loq_criteria",
        level=None,
        value=value,
        unit=bench.unit,
        n=min((each.finding.n for each in at_level if each.finding.n is not None), default=None),
        groups=min((each.finding.groups for each in at_level if each.finding.groups is not None), default=None),
        formula=FORMULA,
        source=SOURCE,
        working=Working(expression="{level}", symbols=(symbol("level", "x", meeting.why, value, bench.unit),)),
        rows=tuple(dict.fromkeys(rows for each in at_level for rows in each.finding.rows)),
        notes=tuple(_notes(judged, meeting)),
        levels_judged=judged,
    )
    return Approach(finding, "", ERRORS)


def _at(level: str, needed: list[NeededFinding], wanted: Iterable[str]) -> LevelVerdict:
    """Met when every verdict is, and trueness and precision (where both are wanted) were both judged."""
    verdicts = [verdict for each in needed for verdict in each.verdicts]
    evidence = [firm for each in needed for firm in each.evidence]
    told = ", ".join(f"{each.words} {' and '.join(map(str, each.verdicts))} in {each.study}" for each in needed)
    names = {each.finding.name for each in needed}
    lacking = [
        word for word, group in QUALITIES_IN_WORDS.items() if set(group) & set(wanted) and not set(group) & names
    ]
    if Verdict.NOT_MET in verdicts:
        verdict = Verdict.NOT_MET
    elif lacking or Verdict.NOT_SHOWN in verdicts:
        verdict = Verdict.NOT_SHOWN
        told += "".join(f"; {word} not judged there" for word in lacking)
    else:
        verdict = Verdict.MET
    limit_within = Evidence.LIMIT_WITHIN_INTERVAL in evidence
    known = [firm for firm in evidence if firm is not None]
    firm = Evidence.LIMIT_WITHIN_INTERVAL if limit_within else Evidence.FIRM if known else None
    return LevelVerdict(level=level, verdict=verdict, evidence=firm, why=told)


def _notes(judged: tuple[LevelVerdict, ...], meeting: LevelVerdict) -> Iterable[str]:
    if meeting is judged[0]:
        yield "the lowest level studied: the limit may lie below"
    above = [each.level for each in judged[judged.index(meeting) + 1 :] if each.verdict is not Verdict.MET]
    if above:
        yield f"above it the criteria are not met or not shown at level {', '.join(above)}"
