"""A side note is printed once, wherever a page ends."""

import io

import pikepdf
import pytest

from validate.dossier.html import FOLDER
from validate.dossier.pdf import set_pages
from validate.provenance.page_text import first_difference, page_text
from validate.provenance.pdf_child import Lines

STYLE = (FOLDER / "templates" / "style.css").read_text("utf-8")
NOTE = "Source of the bound, in a note of several lines that may meet the end of a page. " * 3
POINTS = range(400, 690, 10)
CRITERION = (
    f'<li><p class="note">{NOTE}</p><p class="line"><span class="what">Recovery</span> 70 % to 120 %</p>'
    '<table class="plain verdicts"><caption>Verdicts by level</caption><thead><tr><th scope="col">Level</th>'
    '<th scope="col">Verdict</th></tr></thead><tbody><tr><th scope="row">5</th><td>met</td></tr></tbody></table></li>'
)


@pytest.mark.parametrize("points", POINTS)
def test_a_note_at_the_end_of_a_page_is_printed_once(points):
    filling = f'<div style="height:{points}pt"></div>'
    html = (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>x</title><style>{STYLE}</style>'
        f'</head><body><main>{filling}<ol class="criteria">{CRITERION * 2}</ol>'
        '<h2 style="break-before:page">Another part</h2></main></body></html>'
    ).encode()
    pages = Lines(pikepdf.open(io.BytesIO(set_pages(html)))).by_page()
    assert first_difference(page_text(html), pages) is None
