"""The dossier as one self-contained HTML file."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup

from validate.dossier.assembly import assemble
from validate.dossier.context import Page
from validate.dossier.plots import draw
from validate.dossier.text import finalize
from validate.dossier.words import Words
from validate.vocabulary.carried import Carried
from validate.vocabulary.evaluation import Evaluation

if TYPE_CHECKING:
    from jinja2 import Environment

FOLDER = Path(__file__).parent
POLICY = (
    "default-src 'none'; script-src 'sha256-{}'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "base-uri 'none'; form-action 'none'"
)
"""Only the page's own script may run, and nothing may be fetched or sent."""
CARRIED_MARK = b"<!--carried-->"
"""Where the page carries its files; no text of a file can stand there, for texts are escaped."""
FACES = (
    ("Dossier Serif", "serif-regular", "normal", "400"),
    ("Dossier Serif", "serif-italic", "italic", "400"),
    ("Dossier Serif", "serif-bold", "normal", "700"),
    ("Dossier Mono", "mono-regular", "normal", "400"),
)


def render_html(evaluation: Evaluation, inputs: Mapping[str, bytes], section_templates: Mapping[str, str]) -> bytes:
    """The dossier: styles, typefaces and pictures are inside, nothing is fetched; it reads whole without its script.

    `inputs` maps the names in `evaluation.inputs` to their bytes; `section_templates` maps a
    kind of study to the text of its section template. Every text is escaped; an unknown
    name in a template raises jinja2.UndefinedError.
    """
    return finished_page(*compose(evaluation, inputs, section_templates))


def finished_page(environment: Environment, page: Page) -> bytes:
    """The last step of `render_html`."""
    parts = environment.get_template("parts.html").module
    text = environment.get_template("page.html").render(
        page=page, styles=page_styles(), parts=parts, script=page_script(), policy=POLICY.format(_hash(page_script()))
    )
    return text.encode("utf-8")


@lru_cache(maxsize=1)
def page_script() -> Markup:
    """The script that helps with reading; our own file, so it needs no escaping."""
    return Markup((FOLDER / "templates" / "reading.js").read_text(encoding="utf-8"))


def _hash(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


def with_carried(page: bytes, files: Sequence[Carried]) -> bytes:
    """The page of `render_html` with `files` inside, each behind a link that saves it."""
    section = (
        template_environment(None)
        .get_template("carried.html")
        .render(files=[(item, base64.b64encode(item.content).decode("ascii")) for item in files])
    )
    before, mark, after = page.partition(CARRIED_MARK)
    if not mark:
        raise ValueError("the page has no place for carried files")
    return before + section.encode("utf-8") + after


def compose(
    evaluation: Evaluation,
    inputs: Mapping[str, bytes],
    section_templates: Mapping[str, str],
    drawing: Callable[..., Markup] = draw,
) -> tuple[Environment, Page]:
    """The templates and what they print: the steps of `render_html` before the last."""
    words = Words(evaluation, drawing)
    environment = template_environment(words)
    parts = environment.get_template("parts.html").module
    bodies = {
        study.name: Markup(
            environment.from_string(section_templates[study.kind]).render(
                study=study,
                result=study.as_reported,
                requirements=tuple(r for r in evaluation.requirements if r.criterion.study == study.name),
                parts=parts,
            )
        )
        for study in evaluation.studies
        if study.as_reported.findings
    }
    return environment, assemble(evaluation, inputs, words, bodies)


def template_environment(words: Words | None) -> Environment:
    """Every text is escaped, an unknown name is an error, nothing but the templates of this room is read."""
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finalize,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    if words is not None:
        environment.filters.update(words.filters())
    return environment


@lru_cache(maxsize=1)
def page_styles() -> Markup:
    """Typefaces and style sheet of every printed page; both are our own files, so they need no escaping."""
    return Markup(_font_faces() + (FOLDER / "templates" / "style.css").read_text(encoding="utf-8"))


def _font_faces() -> str:
    return "".join(
        f'@font-face{{font-family:"{family}";font-style:{style};font-weight:{weight};'
        f'src:url(data:font/woff2;base64,{_base64(file)}) format("woff2")}}\n'
        for family, file, style, weight in FACES
    )


def _base64(name: str) -> str:
    return base64.b64encode((FOLDER / "fonts" / f"{name}.woff2").read_bytes()).decode("ascii")
