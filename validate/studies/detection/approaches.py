"""Every approach to a detection limit that the data allow, each as a finding with the SD that it rests on."""

from __future__ import annotations

from dataclasses import dataclass

from validate.studies.contract import StudyInput
from validate.studies.detection.kinds import BY_NAME
from validate.studies.detection.samples import Group, Samples
from validate.studies.detection.settings import DetectionSettings
from validate.vocabulary.finding import Finding, Interval, Rows, Sampling, Symbol, Working
from validate.vocabulary.limits import limits_working

BOTH_ERRORS = "5 % false positives, 5 % missed"
NONE_STATED = "none stated: a shortcut"
CURRIE = "L. A. Currie, Pure Appl. Chem. 67 (1995) 1699-1723; ISO 11843-1 (both from memory)"
ISO_11843_2 = "ISO 11843-2:2000, 5.3 (from memory)"
SHORTCUT = "customary multiple of a standard deviation over the slope, as in ICH Q2(R1) 6.3 and 7.3"


@dataclass(frozen=True)
class Approach:
    """One approach: its finding (content, net of the blank), and the same limit as a response."""

    finding: Finding
    sd: str
    """Which standard deviation, and of what; empty where none is used."""
    errors: str
    net: float | None = None
    gross: float | None = None

    @property
    def name(self) -> str:
        return self.finding.name


@dataclass(frozen=True)
class Bench:
    """What every approach needs beside its own data."""

    job: StudyInput
    samples: Samples

    @property
    def settings(self) -> DetectionSettings:
        return self.job.settings  # type: ignore[return-value]

    @property
    def unit(self) -> str:
        return self.job.method.unit

    @property
    def slope(self) -> float:
        """Size of the slope; 1 for contents as read."""
        return abs(self.samples.sensitivity.slope or 1.0)

    def slope_symbols(self) -> tuple[Symbol, ...]:
        sensitivity = self.samples.sensitivity
        if sensitivity.as_read:
            return ()
        unit = f"{self.samples.unit} per {self.unit}" if self.samples.unit != self.unit else ""
        return (symbol("slope", "b", sensitivity.words, self.slope, unit),)

    @property
    def over_slope(self) -> str:
        return "" if self.samples.sensitivity.as_read else " / {slope}"


def symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)


def missing(name: str, reason: str, bench: Bench, *, formula: str, source: str, rows: tuple[Rows, ...] = ()) -> Finding:
    """A figure that the data do not allow, and why."""
    kind = BY_NAME[name]
    unit = bench.unit if kind.unit == "method" else kind.unit
    return Finding(
        name=name, level=None, value=None, unit=unit, reason=reason, formula=formula, source=source, rows=rows
    )


@dataclass(frozen=True)
class Spread:
    """A standard deviation as the base of a limit: its value, freedom, samples and words."""

    s: float
    df: float
    words: str
    n: int
    days: int | None
    rows: tuple[Rows, ...]
    blocked: tuple[str, ...]


def limit_from(
    bench: Bench,
    name: str,
    spread: Spread,
    factor: float,
    expression: str,
    symbols: tuple[Symbol, ...],
    *,
    formula: str,
    source: str,
    proves: bool,
    notes: tuple[str, ...] = (),
) -> Finding:
    """A limit factor·s, its interval that of s. `proves`: whether the interval may decide a claim."""
    from validate.stats.intervals import sd_limits

    job = bench.job
    uses = [("shown", 0.95)] + ([("met", 0.90), ("not_met", job.not_met_level)] if proves else [])
    intervals = []
    for use, level in uses:
        found = sd_limits(spread.s, spread.df, level)
        intervals.append(
            Interval(
                use=use,  # type: ignore[arg-type]
                level=level,
                low=factor * found.low,
                high=factor * found.high,
                method="chi-square of s",
                working=limits_working(found.rests_on, bench.unit) if use == "shown" else None,
            )
        )
    return Finding(
        name=name,
        level=None,
        value=factor * spread.s,
        unit=bench.unit,
        blocked=spread.blocked,
        intervals=tuple(intervals),
        n=spread.n,
        df=float(spread.df),
        groups=spread.days,
        formula=formula,
        source=source,
        working=Working(expression=expression, symbols=symbols),
        sampling=Sampling(kind="scaled_chi", df=float(spread.df)),
        rows=spread.rows,
        notes=notes,
    )


def usable(bench: Bench, group: Group, what: str, *, fewest: int) -> str | None:
    """Why the samples of a group give no standard deviation, or None."""
    from validate.stats.detection import unusable_blanks

    method, settings = bench.job.method, bench.settings
    if group.censored:
        total = group.n + len(group.censored)
        advice = "measure samples at 1 to 3 times the expected limit instead"
        return f"{len(group.censored)} of {total} {what} gave no number (censored): {advice}"
    if group.n < 2:
        found = f"no {what} with a number" if group.n == 0 else f"only 1 of the {what}"
        return f"{found}: at least 2 needed, {fewest} for a verdict"
    contents = settings.response == "concentration"
    reason = unusable_blanks(
        group.values,
        resolution=method.resolution if contents else None,
        floor=method.floor if contents else None,
    )
    return reason if reason is None or group.level == "0" else reason.replace("blanks", what)


def blocks(group: Group, what: str, *, fewest: int, fewest_days: int) -> tuple[str, ...]:
    """Reasons that forbid a verdict on a limit from these samples."""
    reasons = []
    if group.n < fewest:
        reasons.append(f"{group.n} {what} are too few for a limit, {fewest} needed")
    if group.days is None:
        reasons.append(f"the days of the {what} are not recorded")
    elif group.days < fewest_days:
        reasons.append(f"the {what} come from {group.days} day{'s' if group.days > 1 else ''}, {fewest_days} needed")
    return tuple(reasons)
