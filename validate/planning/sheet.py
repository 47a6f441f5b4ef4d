"""The bench sheet as one self-contained HTML file, in the look of the dossier.

A kind's `bench.html` is its part of the sheet, above the day pages. It receives `study`
(view.StudyView) and `parts`, the macros of `templates/bench_parts.html`: `steps(study)`,
`spikes(study)`, `records(study)`, `decides(study)`, each empty when it has nothing to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from markupsafe import Markup

from validate.dossier.html import page_styles
from validate.dossier.text import finalize
from validate.planning.making import Plan
from validate.planning.viewing import sheet_view

FOLDER = Path(__file__).with_name("templates")


def render_sheet(plan: Plan, templates: Mapping[str, str]) -> bytes:
    """The bench sheet; `templates` maps a kind of study to the text of its `bench.html` (empty: none).

    Every text is escaped; nothing is fetched and no script runs. An unknown name in a
    template raises jinja2.UndefinedError.
    """
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finalize,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    view = sheet_view(plan)
    parts = environment.get_template("bench_parts.html").module
    bodies = {
        shown.name: Markup(environment.from_string(templates.get(study.kind, "")).render(study=shown, parts=parts))
        for shown, study in zip(view.studies, plan.studies, strict=True)
    }
    # The style sheet is our own file; it needs no escaping.
    styles = page_styles() + Markup((FOLDER / "bench.css").read_text(encoding="utf-8"))
    page = environment.get_template("bench_sheet.html")
    return page.render(view=view, bodies=bodies, parts=parts, styles=styles).encode("utf-8")
