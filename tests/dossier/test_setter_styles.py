"""The page setter's lean style sheet sets the same pages."""

from __future__ import annotations

import pytest

from validate.dossier import pdf
from validate.dossier.setter_styles import NOTES, lean_style_sheet

weasyprint = pytest.importorskip("weasyprint", exc_type=(ImportError, OSError))


def test_pages_are_the_same_bytes_with_and_without_the_styles_left_out(html: str, monkeypatch) -> None:
    lean = pdf.set_pages(html.encode())
    monkeypatch.setattr(pdf, "page_class", lambda: weasyprint.HTML)
    assert lean == pdf.set_pages(html.encode())


def test_no_element_but_a_list_item_gets_a_style_of_its_own_for_a_marker() -> None:
    """Should the setter's sheet read otherwise one day, this says that the memory is spent again."""
    from weasyprint.html import UA

    text = lean_style_sheet(UA)
    assert "\nli::marker {" in text and "\n::marker {" not in text
    assert not any(start in text for start in NOTES) and all(start in UA for start in NOTES)
    assert len(text) > len(UA) - 1000
