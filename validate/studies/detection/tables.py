"""The approaches side by side in one domain, and the samples as counted."""

from __future__ import annotations

from validate.stats.intervals import chi2_quantile
from validate.studies.detection.approaches import Approach, Bench
from validate.studies.detection.kinds import BY_NAME, LOD_FINDINGS, LOQ_FINDINGS
from validate.studies.detection.settings import NEAR
from validate.studies.detection.trials import Counted, TrialResults
from validate.vocabulary.evaluation import ResultTable, TableColumn

NOTE = (
    "Content is net of the blank and decides; net and gross are the same limit as a response. The upper limit is the "
    "one-sided 95 % limit, because s is an estimate from few results. Limits with different errors are not comparable. "
    "Samples near: spiked levels within a factor of two."
)


def approach_table(bench: Bench, counted: TrialResults, approaches: tuple[Approach, ...]) -> ResultTable:
    """One line for each approach that the data allow; the findings say why the others are missing."""
    unit, response = bench.unit, bench.samples.unit
    claimed = {LOD_FINDINGS[bench.settings.lod.by], LOQ_FINDINGS[bench.settings.loq.by]}
    columns = (
        TableColumn(title="approach", kind="text"),
        TableColumn(title="content", unit=unit),
        TableColumn(title="upper 95 % limit", unit=unit),
        TableColumn(title="net response", unit=response),
        TableColumn(title="gross response", unit=response),
        TableColumn(title="standard deviation used", kind="text"),
        TableColumn(title="errors", kind="text"),
        TableColumn(title="samples near", kind="text"),
    )
    rows = [_line(each, counted, claimed) for each in approaches if each.finding.value is not None]
    return ResultTable(
        name="approaches",
        title="Limits by every approach that the data allow",
        columns=columns,
        rows=tuple(rows),
        note=NOTE,
    )


def _line(each: Approach, counted: TrialResults, claimed: set[str]) -> tuple[str | float | None, ...]:
    value = each.finding.value
    near = _near_words(value, counted) if each.name.startswith("lod_") else ""
    return (_title(each, claimed), value, _upper(each), each.net, each.gross, each.sd or "none", each.errors, near)


def _title(each: Approach, claimed: set[str]) -> str:
    return BY_NAME[each.name].title + (" (claimed)" if each.name in claimed else "")


def _upper(each: Approach) -> float | None:
    """Upper end of the one-sided 95 % limit; of the curve where it was found by likelihood."""
    finding = each.finding
    met = finding.interval("met")
    if met is not None:
        return met.high
    if finding.sampling is None or finding.sampling.df is None:
        return None
    df = finding.sampling.df
    return finding.value * (df / chi2_quantile(0.05, df)) ** 0.5


def levels_near(value: float, counted: TrialResults) -> tuple[Counted, ...]:
    """The spiked levels within a factor of two of a limit."""
    return tuple(each for each in counted.levels if value / NEAR <= float(each.group.level) <= value * NEAR)


def _near_words(value: float, counted: TrialResults) -> str:
    near = levels_near(value, counted)
    words = "; ".join(f"{each.group.level}: {each.detected} of {each.n} detected" for each in near)
    return words or "none: not confirmed"


def trial_table(bench: Bench, counted: TrialResults) -> ResultTable:
    """Blanks and every spiked level: how many, how many without a number, how many detected, mean and SD."""
    unit = bench.samples.unit
    columns = (
        TableColumn(title="level", unit=bench.unit, kind="text"),
        TableColumn(title="samples"),
        TableColumn(title="without a number"),
        TableColumn(title="detected"),
        TableColumn(title="days"),
        TableColumn(title="mean", unit=unit),
        TableColumn(title="SD", unit=unit),
        TableColumn(title="lowest", unit=unit),
        TableColumn(title="highest", unit=unit),
    )
    by_level: dict[str, Counted] = {each.group.level: each for each in (counted.blanks, *counted.levels) if each}
    rows = []
    for group in bench.samples.groups:
        detected = by_level.get(group.level)
        some = group.n > 0
        rows.append((
            "0 (blank)" if group.level == "0" else group.level,
            float(group.n + len(group.censored)),
            float(len(group.censored)),
            None if detected is None else float(detected.detected),
            None if group.days is None else float(group.days),
            float(group.values.mean()) if some else None,
            group.sd,
            float(group.values.min()) if some else None,
            float(group.values.max()) if some else None,
        ))  # fmt: skip
    words = counted.decision.words or f"not counted: {counted.reason}"
    return ResultTable(
        name="samples", title="Blanks and spiked samples", columns=columns, rows=tuple(rows), note=f"Detected: {words}."
    )
