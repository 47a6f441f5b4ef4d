"""The page setter's own style sheet, without the styles of things that our pages do not have.

WeasyPrint 70 gives every element a style for its list marker, and for the calls, numbers and
back references of footnotes: six style objects that nothing uses, for each of some thousand
elements, a quarter of the memory of a dossier. Only list items have markers, and no page has
footnotes.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

MARKER = "\n::marker {"
OF_ITEMS = "\nli::marker {"
NOTES = ("::footnote-call {", "::footnote-marker {", "::note-call {", "::note-marker {", "::note-callback {")


@lru_cache(maxsize=1)
def page_class() -> Any:
    """`weasyprint.HTML` with that style sheet."""
    import weasyprint

    class Page(weasyprint.HTML):  # type: ignore[misc]
        """A page that is set with `lean_style_sheet`."""

        def _ua_stylesheets(self, forms: bool = False) -> list[Any]:
            return [_sheet()]

    return Page


@lru_cache(maxsize=1)
def _sheet() -> Any:
    import weasyprint
    from weasyprint.html import UA, UA_COUNTER_STYLE

    return weasyprint.CSS(string=lean_style_sheet(UA), counter_style=UA_COUNTER_STYLE)


def lean_style_sheet(text: str) -> str:
    """The setter's style sheet with markers for list items only and without the lines on footnotes."""
    lines = text.replace(MARKER, OF_ITEMS).splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith(NOTES))
