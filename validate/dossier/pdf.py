"""The dossier as PDF, set from the same HTML: tagged, with bookmarks, the same bytes on every run."""

from __future__ import annotations

import hashlib
from typing import Any

from validate.vocabulary.evaluation import Evaluation

VARIANT = "pdf/ua-1"
PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
"""Debian's names of the system libraries that set the pages."""


class PangoMissing(Exception):
    """The system libraries for the PDF are absent; the message says how to get them."""

    def __init__(self) -> None:
        super().__init__(
            "The PDF was not written: the text libraries of the system are missing. "
            f"On Debian or Ubuntu: apt install {PACKAGES}"
        )


def render_pdf(html: bytes, evaluation: Evaluation) -> bytes:
    """The PDF of a dossier's HTML (A4; the type area also fits a Letter page). Raises PangoMissing."""
    return set_pages(html)


def set_pages(html: bytes) -> bytes:
    """The PDF of a page of this package.

    Dates are the protocol's date of issue and the file identifier is made from the HTML, so
    that equal input gives equal bytes with equal system libraries. Nothing but data inside
    the HTML is read. Raises PangoMissing without Pango or HarfBuzz.
    """
    weasyprint = _weasyprint()
    document = weasyprint.HTML(
        string=html.decode("utf-8"),
        base_url=None,
        url_fetcher=_only_inside_fetcher(),
        media_type="print",
    )
    return document.write_pdf(
        pdf_identifier=hashlib.sha256(html).hexdigest()[:32].encode("ascii"),
        pdf_variant=VARIANT,
        uncompressed_pdf=False,
    )


def _weasyprint() -> Any:
    try:
        import weasyprint
    except OSError as error:
        raise PangoMissing from error
    return weasyprint


def _only_inside_fetcher() -> Any:
    """A fetcher that reads `data:` and refuses every other address."""
    from weasyprint.urls import URLFetcher

    return URLFetcher(allowed_protocols=("data",), allow_redirects=False, fail_on_errors=True)
