"""Findings, plots and evaluations as pieces of HTML for a notebook: the dossier's own parts, without its page."""

from __future__ import annotations

from collections.abc import Mapping
from functools import singledispatch
from typing import Any

from markupsafe import Markup

from validate.dossier import numbers
from validate.dossier.html import compose
from validate.dossier.plots import draw
from validate.dossier.words import Words, slug
from validate.vocabulary.evaluation import Evaluation
from validate.vocabulary.finding import Finding
from validate.vocabulary.plot import Plot


@singledispatch
def inline_html(thing: Any) -> str:
    """HTML of a finding, a plot or an evaluation; TypeError for anything else."""
    raise TypeError(f"{type(thing).__name__} has no inline form")


@inline_html.register
def _(plot: Plot) -> str:
    return Markup("<figure>{}<figcaption><b>{}</b> {}</figcaption></figure>").format(
        draw(plot, f"plot-{slug(plot.name)}"), plot.title, plot.sentence
    )


@inline_html.register
def _(finding: Finding) -> str:
    shown = finding.interval("shown")
    if finding.value is None:
        value, limits = finding.reason or "not computed", ""
    elif shown is None:
        value, limits = numbers.alone(finding.value), ""
    else:
        value, low, high = numbers.beside_interval(finding.value, shown.low, shown.high)
        limits = f"{low or 'open'} to {high or 'open'}"
    facts = {
        "finding": finding.name if finding.level is None else f"{finding.name} at {finding.level}",
        "value": numbers.with_unit(value, finding.unit) if finding.value is not None else value,
        "95 % limits": limits,
        "n": finding.n,
        "df": None if finding.df is None else numbers.significant(finding.df, 3),
        "formula": finding.formula,
        "source": finding.source,
        "no verdict because": "; ".join(finding.blocked),
        "rows": "; ".join(f"{rows.file} {rows.ranges}" for rows in finding.rows),
    }
    lines = [Markup("<tr><th>{}</th><td>{}</td></tr>").format(name, text) for name, text in facts.items() if text]
    return Markup("<table>{}</table>").format(Markup("").join(lines))


@inline_html.register
def _(evaluation: Evaluation) -> str:
    sentences = Markup("").join(Markup("<p>{}</p>").format(each) for each in evaluation.conclusion.sentences)
    views = Words(evaluation, draw).criterion_views(evaluation.requirements)
    rows = Markup("").join(
        Markup("<tr><td>{}</td><td>{}</td><td>{} {}</td><td>{}</td><td><b>{}</b></td></tr>").format(
            view.title,
            view.level,
            view.found,
            Markup("<small>{}</small>").format(view.limits),
            view.wording,
            view.judgement.verdict,
        )
        for view in views
    )
    head = Markup("<tr><th>finding</th><th>level</th><th>found</th><th>bound</th><th>verdict</th></tr>")
    return Markup("<div>{}<table><thead>{}</thead><tbody>{}</tbody></table></div>").format(sentences, head, rows)


def study_html(evaluation: Evaluation, inputs: Mapping[str, bytes], templates: Mapping[str, str], name: str) -> str:
    """The section of one study as it stands in the dossier, pictures included; KeyError for an unknown name."""
    _environment, page = compose(evaluation, inputs, templates)
    return {section.study.name: section.body for section in page.studies}[name]
