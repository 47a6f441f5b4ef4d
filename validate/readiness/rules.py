"""The rules of a protocol in one form, and the columns of the run log that they ask for."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from validate.tables.table import Column

if TYPE_CHECKING:
    import datetime as dt

    from validate.protocol.model import Protocol
    from validate.protocol.readiness import Readiness, ReadinessBound, Sourced
    from validate.protocol.settings import DataSource

CHECK_READINGS = {
    "check_standard": "reading of the check standard",
    "water_blank": "reading of the water blank",
    "reagent_blank": "reading of the reagent blank",
}
STARTS = {"mixing": "mixed", "opening": "opened"}
_TEXTS = {
    "measured_by": "who measured",
    "checked_by": "who checked",
    "instrument": "instrument",
    "firmware": "firmware of the instrument",
}
_TIMES = {
    "start": "begin of the run",
    "end": "end of the run",
    "first_reading": "first reading",
    "last_reading": "last reading",
    "calibrated": "calibration",
    "developer_added": "developer added",
}


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One rule: a bound on a reading, a time that may pass, or a last day of use."""

    kind: Literal["bound", "age", "delay", "expiry"]
    path: tuple[str, ...]
    """Keys below `readiness` in the protocol."""
    title: str
    wording: str
    source: str
    roles: tuple[str, ...]
    """Columns of the run log; for a shelf life the ones that can start it."""
    low: float | None = None
    high: float | None = None
    lasts_ms: int = 0
    last_day: dt.date | None = None
    """Of a material of the protocol, where the run log names none."""

    @property
    def key(self) -> str:
        return ".".join(self.path)


def rules_of(protocol: Protocol) -> tuple[Rule, ...]:
    """The rules that the protocol writes, in a fixed order."""
    readiness = protocol.readiness
    return () if readiness is None else tuple(_rules(readiness, protocol))


def _rules(readiness: Readiness, protocol: Protocol) -> Iterator[Rule]:
    def source(rule: Sourced) -> str:
        return rule.source or readiness.source or ""

    if (rule := readiness.calibration) is not None:
        yield _passing(
            "age", ("calibration",), "Calibration", "not older than", rule.not_older_than, ("calibrated",), source(rule)
        )
    for key, title in CHECK_READINGS.items():
        if (bound := getattr(readiness, key)) is not None:
            yield _bound((key,), title[:1].upper() + title[1:], key, bound, source(bound))
    for name, bound in readiness.limits.items():
        yield _bound(("limits", name), name[:1].upper() + name[1:], slug(name), bound, source(bound))
    for name, rule in readiness.shelf_life.items():
        starts = [rule.counted_from] if rule.counted_from else list(STARTS)
        yield _passing(
            "age",
            ("shelf_life", name),
            f"Shelf life of {name}",
            f"within {{}} of {' or '.join(starts)}",
            rule.lasts,
            tuple(f"{slug(name)}_{STARTS[start]}" for start in starts),
            source(rule),
        )
    if (rule := readiness.after_developer) is not None:
        words = "within {} after the developer was added"
        yield _passing(
            "delay",
            ("after_developer",),
            "Time of reading",
            words,
            rule.read_within,
            ("developer_added",),
            source(rule),
        )
    if (rule := readiness.expiry) is not None:
        for name in dict.fromkeys(rule.items):
            material = protocol.materials.get(name)
            yield Rule(
                kind="expiry",
                path=("expiry", name),
                title=f"Expiry of {name}",
                wording="not after its last day of use",
                source=source(rule),
                roles=(f"{slug(name)}_expires",),
                last_day=material.expires if material else None,
            )


def _passing(
    kind: Literal["age", "delay"],
    path: tuple[str, ...],
    title: str,
    words: str,
    lasts: object,
    roles: tuple[str, ...],
    source: str,
) -> Rule:
    wording = words.format(lasts.text) if "{}" in words else f"{words} {lasts.text}"
    milliseconds = round(lasts.to("s") * 1000)
    return Rule(kind=kind, path=path, title=title, wording=wording, source=source, roles=roles, lasts_ms=milliseconds)


def _bound(path: tuple[str, ...], title: str, role: str, bound: ReadinessBound, source: str) -> Rule:
    low, high = bound.between or (bound.at_least, bound.at_most)
    unit = f" {bound.unit}" if bound.unit else ""
    if low is not None and high is not None:
        wording = f"{low:.10g} to {high:.10g}{unit}"
    else:
        wording = f"at most {high:.10g}{unit}" if low is None else f"at least {low:.10g}{unit}"
    return Rule(kind="bound", path=path, title=title, wording=wording, source=source, roles=(role,), low=low, high=high)


def with_start(rule: Rule, columns: Collection[str]) -> Rule:
    """A shelf life that names no start begins with the one that the run log records."""
    present = [role for role in rule.roles if role in columns]
    if len(rule.roles) == 1 or len(present) != 1:
        return rule
    start = next(start for start, word in STARTS.items() if present[0].endswith(word))
    return replace(rule, roles=tuple(present), wording=rule.wording.replace(" or ".join(STARTS), start))


def slug(name: str) -> str:
    """A name as part of a column's name: `working developer` is `working_developer`."""
    return "_".join(name.split())


def log_columns(protocol: Protocol) -> tuple[Column, ...]:
    """The columns of the run log; only the name of the run is required."""
    readiness = protocol.readiness
    columns = [Column(role="run", title="name of the run", type="label")]
    columns += [Column(role=role, title=title, type="label", required=False) for role, title in _TEXTS.items()]
    columns += [_time(role, f"time: {title}") for role, title in _TIMES.items()]
    checks = {key: getattr(readiness, key, None) for key in CHECK_READINGS}
    columns += [_number(key, CHECK_READINGS[key], bound) for key, bound in checks.items()]
    if readiness is not None:
        columns += [_number(slug(name), name, bound) for name, bound in readiness.limits.items()]
        for name in readiness.shelf_life:
            columns += [_time(f"{slug(name)}_{start}", f"time: {name} {start}") for start in STARTS.values()]
        expiring = list(readiness.expiry.items) if readiness.expiry else []
        columns += [_date(f"{slug(name)}_expires", f"last day of use: {name}") for name in dict.fromkeys(expiring)]
        for name in dict.fromkeys([*readiness.shelf_life, *expiring]):
            columns.append(Column(role=f"{slug(name)}_lot", title=f"lot: {name}", type="label", required=False))
    return tuple(columns)


def _time(role: str, title: str) -> Column:
    return Column(role=role, title=title, type="time", required=False, censored=True)


def _date(role: str, title: str) -> Column:
    return Column(role=role, title=title, type="date", required=False, censored=True)


def _number(role: str, title: str, bound: ReadinessBound | None) -> Column:
    unit = bound.unit if bound is not None and bound.unit else ""
    return Column(role=role, title=title, type="number", unit=unit, required=False, censored=True)


RUN = Column(role="run", title="name of the run in the run log", type="label", required=False)
READ_AT = _time("read_at", "time of this reading")
DEVELOPER_ADDED = _time("developer_added", "time at which the developer was added to this portion")
RESULT_COLUMNS = (RUN, READ_AT, DEVELOPER_ADDED)
"""What the table of any study may say of the run of a result."""


def result_columns(columns: Sequence[Column], source: DataSource) -> tuple[Column, ...]:
    """The columns of a study, with those that say to which run a result belongs."""
    taken = {source.columns.get(column.role, column.role) for column in columns} | {c.role for c in columns}
    extra = [c for c in RESULT_COLUMNS if c.role not in taken and source.columns.get(c.role, c.role) not in taken]
    return (*columns, *extra)
