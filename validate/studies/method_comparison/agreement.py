"""Limits of agreement of single readings, and agreement of decisions at the method's limit."""

from __future__ import annotations

import math

import numpy as np

from validate.stats.comparison import BlandAltman, Classification, bland_altman, classification
from validate.stats.detection import Proportion
from validate.stats.intervals import Limits
from validate.studies.method_comparison.kinds import CLASSES, agreement_names
from validate.studies.method_comparison.limit_workings import of_logarithms, of_noncentral_t, of_t
from validate.studies.method_comparison.lines import intervals_of, symbol
from validate.studies.method_comparison.samples import Samples
from validate.vocabulary.finding import Finding, LimitsWorking, Sampling, Working
from validate.vocabulary.limits import share_limits

SOURCE = "Bland and Altman, Lancet 1986 i 307-310; Stat. Methods Med. Res. 8 (1999) 135-160 (from memory)"
COUNTED = "counted; exact limits of a proportion after Clopper and Pearson 1934 (from memory)"
E = math.e


def agreement_of(samples: Samples, confidence: float = 0.95) -> BlandAltman | str:
    """Bias and limits of agreement, or why there are none."""
    try:
        return bland_altman(
            samples.reference,
            samples.found,
            ratio=samples.as_ratios,
            samples_x=samples.reference_of.tolist(),
            samples_y=samples.found_of.tolist(),
            printed=samples.settings.as_printed_1986,
            exact=not samples.settings.as_printed_1986,
            level=confidence,
        )
    except ValueError as error:
        return str(error)


def agreement_findings(samples: Samples, found: BlandAltman | str, blocked: tuple[str, ...]) -> tuple[Finding, ...]:
    """Middle, lower and upper limit, in the form that the protocol declares."""
    attributes = ("bias", "lower", "upper")
    return tuple(
        _one(samples, found, name, attribute, blocked)
        for name, attribute in zip(agreement_names(samples.settings), attributes, strict=True)
    )


def _one(samples: Samples, found: BlandAltman | str, name: str, attribute: str, blocked: tuple[str, ...]) -> Finding:
    multiple = "2" if samples.settings.as_printed_1986 else "1.96"
    sign = {"bias": "", "lower": f" − {multiple}·s", "upper": f" + {multiple}·s"}[attribute]
    of = "mean of ln y − ln x" if samples.as_ratios else "mean of y − x"
    common = {
        "name": name, "level": None, "unit": "" if samples.as_ratios else samples.unit, "source": SOURCE,
        "formula": f"e^(d̄{sign}), d̄ = {of}" if samples.as_ratios else f"d̄{sign}, d̄ = {of}",
        "n": samples.n, "rows": samples.rows,
    }  # fmt: skip
    if isinstance(found, str):
        return Finding(value=None, reason=found, **common)

    def limits(confidence: float) -> Limits:
        again = agreement_of(samples, confidence)
        return getattr(again, f"{attribute}_limits")

    of_mean = attribute == "bias" and not samples.as_ratios
    return Finding(
        value=getattr(found, attribute),
        blocked=(*blocked, *_no_scatter(samples, found), *_printed(samples, attribute)),
        intervals=intervals_of(samples.job, limits, _limits_working(samples, found, attribute)),
        df=found.df,
        working=_working(samples, found, attribute),
        sampling=Sampling(kind="mean", se=found.se_bias, df=found.df) if of_mean else None,
        notes=() if attribute == "bias" else (f"s = {found.sd:.4g}{_of_single(found)}",),
        **common,
    )


def _printed(samples: Samples, attribute: str) -> tuple[str, ...]:
    if attribute == "bias" or not samples.settings.as_printed_1986:
        return ()
    return ("limits with √(3/n), as printed in 1986, err too often at one end; they are for comparison with the paper",)


def _limits_working(samples: Samples, found: BlandAltman, attribute: str) -> LimitsWorking | None:
    ends = getattr(found, f"{attribute}_limits")
    if any(name == "q_low" for name, _ in ends.rests_on):
        return of_noncentral_t(ends, "" if samples.as_ratios else samples.unit, logarithms=samples.as_ratios)
    if samples.as_ratios:
        return of_logarithms(ends, "{value} / {f}", "{value} · {f}")
    return of_t(ends, samples.unit)


def _of_single(found: BlandAltman) -> str:
    if found.sd == found.sd_of_means:
        return " of logarithms" if found.ratio else ""
    return f", of single readings; of the means of samples {found.sd_of_means:.4g}"


def _no_scatter(samples: Samples, found: BlandAltman) -> tuple[str, ...]:
    step = samples.job.method.resolution
    if found.sd == 0:
        return ("all samples differ by the same amount (s = 0)",)
    if step is not None and not samples.as_ratios and found.sd < step / 2:
        return ("the differences scatter by less than half a step of the reading",)
    return ()


def _working(samples: Samples, found: BlandAltman, attribute: str) -> Working:
    differences = np.asarray(found.differences)
    unit = "" if samples.as_ratios else samples.unit
    words = "logarithms of the ratios" if samples.as_ratios else "differences"
    symbols = [symbol("sum", "Σd", f"sum of the {words}", math.fsum(differences.tolist()), unit),
               symbol("n", "n", "samples", found.n)]  # fmt: skip
    expression = "{sum} / {n}"
    if attribute != "bias":
        sign = "−" if attribute == "lower" else "+"
        expression += f" {sign} {{k}} · {{s}}"
        symbols += [
            symbol("k", "k", "multiple", found.multiple),
            symbol("s", "s", f"SD of the {words}", found.sd, unit),
        ]
    if samples.as_ratios:
        return Working(expression=f"{{e}}^({expression})", symbols=(symbol("e", "e", "Euler's number", E), *symbols))
    return Working(expression=expression, symbols=tuple(symbols))


def classes_of(samples: Samples, confidence: float = 0.95) -> Classification | str | None:
    """Decisions on the means of the samples; None for a method without a limit."""
    limit = samples.job.method.limit
    if limit is None:
        return None
    try:
        return classification(samples.x, samples.y, limit, level=confidence)
    except ValueError as error:
        return str(error)


def class_findings(samples: Samples, blocked: tuple[str, ...]) -> tuple[Finding, ...]:
    """Shares of samples that both methods put on the same side of the limit."""
    found = classes_of(samples)
    return () if found is None else tuple(_share(samples, name, found, blocked) for name in CLASSES)


def _share(samples: Samples, name: str, found: Classification | str, blocked: tuple[str, ...]) -> Finding:
    limit = f"{samples.job.method.limit:g} {samples.unit}"
    words = {"classified_alike": "all", "alike_above": "above by the reference", "alike_not_above": "not above by it"}
    common = {"name": name, "level": None, "unit": "%", "formula": f"100·alike/n; n: samples, {words[name]}, {limit}",
              "source": COUNTED, "rows": samples.rows}  # fmt: skip
    if isinstance(found, str):
        return Finding(value=None, reason=found, n=samples.n, **common)
    share = _of(found, name)
    if share is None:
        side = "above" if name == "alike_above" else "at or below"
        return Finding(value=None, reason=f"no sample is {side} {limit} by the reference", n=0, **common)

    def limits(confidence: float) -> tuple[float, float, str]:
        again = _of(classes_of(samples, confidence), name)  # type: ignore[arg-type]
        return 100 * again.low, 100 * again.high, "Clopper-Pearson"  # type: ignore[union-attr]

    k, n = symbol("k", "k", "samples on the same side", share.detected), symbol("n", "n", "samples", share.n)
    return Finding(
        value=100 * share.estimate,
        blocked=blocked,
        intervals=intervals_of(samples.job, limits, share_limits(k, n, share.rests_on)),
        n=share.n,
        working=Working(expression="100 · {k} / {n}", symbols=(k, n)),
        **common,
    )


def _of(found: Classification, name: str) -> Proportion | None:
    return {"classified_alike": found.overall, "alike_above": found.of_above, "alike_not_above": found.of_not_above}[
        name
    ]
