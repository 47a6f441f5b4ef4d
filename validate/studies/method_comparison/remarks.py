"""What a reader must not miss: remarks, the design as carried out, what varied, limits of use."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from validate.stats.comparison import BlandAltman, PassingBablok
from validate.stats.outliers import grubbs
from validate.studies.contract import StudyInput
from validate.studies.method_comparison.lines import LineFound
from validate.studies.method_comparison.samples import Samples, samples_of
from validate.studies.method_comparison.settings import CONDITIONS, FEWEST, RANKS, MethodComparisonSettings
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import DesignFact, Remark, Varied

MOST_NAMED = 8
GROWS = 2.576
"""Standard normal quantile of 99 %, two-sided, for the rank correlation of |d| with the content."""
FUNNEL = (
    "The differences grow with the content: limits of agreement as one figure are too wide at low contents and too "
    "narrow at high ones. `differences: ratio` and `line: {errors: proportional}` describe such results."
)
RATIO_FUNNEL = (
    "The ratios scatter more at one end of the range than at the other: one figure for all contents fits neither end."
)
NARROW = 3.0
FACTORS = dict(zip(CONDITIONS, ("days", "runs", "analysts", "instruments", "lots"), strict=True))


def blocks_of(samples: Samples) -> tuple[str, ...]:
    """What forbids a verdict on any figure of the comparison."""
    return ("censored results are left out of it",) if samples.censored else ()


def remarks_of(samples: Samples, line: LineFound, agreement: BlandAltman | str) -> tuple[Remark, ...]:
    """Sentences on samples, line and differences."""
    told = (*_on_samples(samples), *_on_line(line), *_on_differences(samples, agreement))
    return tuple(Remark(kind=kind, text=text, rows=rows) for kind, text, rows in told)  # type: ignore[arg-type]


def _on_samples(samples: Samples) -> Iterator[tuple[str, str, str]]:
    if samples.censored:
        text = "Censored results are left out, and nothing here gets a verdict: they are never zero."
        yield "warning", text, row_ranges(samples.censored)
    if samples.unmatched:
        yield "flag", f"Without a number from both methods: {_named(samples.unmatched)}; a reason is needed.", ""
    if 0 < samples.n < FEWEST:
        yield (
            "warning",
            f"{samples.n} samples; below {FEWEST} there is no verdict, and common practice asks for 40.",
            "",
        )
    if samples.n > 1 and samples.x.min() > 0 and samples.x.max() < NARROW * samples.x.min():
        yield "warning", "The samples lie close together: slope and intercept say little outside, and little apart.", ""


def _on_line(line: LineFound) -> Iterator[tuple[str, str, str]]:
    if line.fit is None:
        yield "warning", f"No line was drawn: {line.reason}.", ""
    elif isinstance(line.fit, PassingBablok):
        for text in line.fit.warnings:
            yield "warning", f"{text[0].upper()}{text[1:]}.", ""


def _on_differences(samples: Samples, agreement: BlandAltman | str) -> Iterator[tuple[str, str, str]]:
    if isinstance(agreement, str):
        yield "warning", f"No limits of agreement: {agreement}.", ""
        return
    differences = np.asarray(agreement.differences)
    if samples.n >= FEWEST and agreement.sd > 0:
        if _grows(samples, differences):
            yield "warning", RATIO_FUNNEL if agreement.ratio else FUNNEL, ""
        flag = grubbs(differences)
        if flag.statistic > flag.critical_1:
            what = "ratio" if agreement.ratio else "difference"
            who = samples.names[flag.index]
            text = f"Sample {who} lies apart by its {what} (Grubbs, 1 %); a reason is needed, it stays in."
            yield "flag", text, ""
    if samples.settings.as_printed_1986:
        yield "note", "Limits of agreement with 2 s and their errors with √(3/n), as first published in 1986.", ""


def _grows(samples: Samples, differences: np.ndarray) -> bool:
    """Rank correlation of the distance from the mean difference with the content (Spearman, normal at 99 %)."""
    away = _ranks(np.abs(differences - differences.mean()))
    content = _ranks(samples.x + samples.y)
    if away.std() == 0 or content.std() == 0:
        return False
    r = float(np.corrcoef(away, content)[0, 1])
    return abs(r) * math.sqrt(samples.n - 1) > GROWS


def _ranks(values: np.ndarray) -> np.ndarray:
    """Ranks; equal values share the mean of theirs."""
    _, codes, numbers = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(numbers)
    return (last - (numbers - 1) / 2)[codes]


def design_facts(samples: Samples) -> tuple[DesignFact, ...]:
    """Samples, readings, days and range: planned against carried out."""
    settings = samples.settings
    design = settings.design
    facts = [
        DesignFact(
            name="samples", planned=str(design.samples), carried_out=str(samples.n), short=samples.n < design.samples
        ),
        _readings("readings of a sample by the reference", design.replicates, samples.reference_of, samples.n),
        _readings("readings of a sample by this method", design.replicates, samples.found_of, samples.n),
    ]
    if design.days is not None:
        frame = samples.table.frame
        days = int(frame["day"].nunique()) if "day" in frame.columns else 0
        carried_out = str(days) if days else "not recorded"
        facts.append(
            DesignFact(name="days", planned=str(design.days), carried_out=carried_out, short=days < design.days)
        )
    facts.append(DesignFact(name="line", planned=_line_words(settings), carried_out="as planned"))
    if samples.n:
        spread = f"{samples.x.min():.4g} to {samples.x.max():.4g} {samples.unit}"
        scope = samples.job.method
        planned = (
            "not stated" if scope.scope_from is None else f"{scope.scope_from:g} to {scope.scope_to:g} {samples.unit}"
        )
        facts.append(DesignFact(name="range of the samples", planned=planned, carried_out=spread))
    return tuple(facts)


def _readings(name: str, planned: int, codes: np.ndarray, n: int) -> DesignFact:
    if n == 0:
        return DesignFact(name=name, planned=str(planned), carried_out="none", short=True)
    counts = np.bincount(codes, minlength=n)
    least, most = int(counts.min()), int(counts.max())
    carried_out = str(least) if least == most else f"{least} to {most}"
    return DesignFact(name=name, planned=str(planned), carried_out=carried_out, short=least < planned)


def varied_factors(samples: Samples) -> tuple[Varied, ...]:
    """Days, runs, analysts, instruments and lots of this method's results."""
    frame = samples.table.frame
    made = []
    for role, name in FACTORS.items():
        labels = [] if role not in frame.columns else [text for text in frame[role].unique() if text != ""]
        if not labels:
            made.append(Varied(factor=name, state="not recorded"))
            continue
        state = "varied" if len(labels) > 1 else "constant"
        made.append(Varied(factor=name, state=state, count=len(labels), detail=_named(labels)))
    return tuple(made)


def facts_of(samples: Samples) -> dict[str, str]:
    """Short texts for the section."""
    settings = samples.settings
    return {"reference": settings.reference, "line": _line_words(settings)}


def _line_words(settings: MethodComparisonSettings) -> str:
    errors = (
        "errors in proportion to the content" if settings.line.errors == "proportional" else "errors of constant size"
    )
    if settings.line.by == RANKS:
        return f"Passing-Bablok, {errors}"
    return f"Deming, ratio of variances {settings.line.variance_ratio:g}, {errors}"


def limits_of_use(job: StudyInput) -> tuple[str, ...]:
    """What this comparison cannot tell."""
    return tuple(_limits(samples_of(job)))


def _limits(samples: Samples) -> Iterator[str]:
    yield "A bias that both methods share is not seen: this comparison is as true as the reference method."
    if samples.n:
        low, high = samples.x.min(), samples.x.max()
        yield f"Samples of {low:.4g} to {high:.4g} {samples.unit} were compared; nothing outside."
    limit = samples.job.method.limit
    if limit is None:
        yield "The method states no limit: agreement of decisions is not looked at."
    elif samples.n and not samples.x.min() <= limit <= samples.x.max():
        yield f"The limit of {limit:g} {samples.unit} lies outside the samples: agreement of decisions says nothing."
    frame = samples.table.frame
    if "lot" not in frame.columns or frame["lot"].nunique() < 2:
        yield "One lot of this method (or none recorded): other lots may differ from the reference in another way."


def _named(labels: object) -> str:
    names = [str(label) for label in labels]  # type: ignore[attr-defined]
    return ", ".join(names[:MOST_NAMED]) + (" …" if len(names) > MOST_NAMED else "")
