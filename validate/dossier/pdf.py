"""The dossier as PDF, set from the same HTML: tagged, with bookmarks, the same bytes on every run.

A dossier for the archive is PDF/A-3 (ISO 19005-3) with what it was made from attached, or PDF/A-2
(ISO 19005-2) without attachments; both are also declared as PDF/UA-1 (ISO 14289-1).
"""

from __future__ import annotations

import hashlib
import warnings
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Literal

from validate.dossier.setter import fewer_collections, no_leftover_notes
from validate.dossier.setter_styles import page_class
from validate.dossier.xmp import archive_metadata
from validate.vocabulary.carried import Carried
from validate.vocabulary.evaluation import Evaluation

Archive = Literal["pdf/a-3", "pdf/a-2"]
VARIANTS = {"pdf/a-3": "pdf/a-3a", "pdf/a-2": "pdf/a-2a"}
ACCESSIBLE = "pdf/ua-1"
PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
"""Debian's names of the system libraries that set the pages."""


class PangoMissing(Exception):
    """The system libraries for the PDF are absent; the message says how to get them."""

    def __init__(self) -> None:
        super().__init__(
            "The PDF was not written: the text libraries of the system are missing. "
            f"On Debian or Ubuntu: apt install {PACKAGES}"
        )


def render_pdf(
    html: bytes, evaluation: Evaluation, attachments: Sequence[Carried] = (), *, archive: Archive = "pdf/a-3"
) -> bytes:
    """The PDF of a dossier's HTML (A4; the type area also fits a Letter page). Raises PangoMissing.

    `attachments` travel in it with relationship, description and the date of issue; an archive
    of kind `pdf/a-2` takes none.
    """
    issued = datetime.fromisoformat(str(evaluation.protocol["issued"]))
    return set_pages(html, VARIANTS[archive], () if archive == "pdf/a-2" else attachments, issued)


class ReadStyles:
    """A style sheet with its typefaces, read once for many pages. Raises PangoMissing."""

    def __init__(self, styles: str) -> None:
        weasyprint = _weasyprint()
        from weasyprint.text.fonts import FontConfiguration

        self.fonts = FontConfiguration()
        self.sheet = weasyprint.CSS(string=styles, font_config=self.fonts, url_fetcher=_only_inside_fetcher())


@fewer_collections()
def set_pages(
    html: bytes,
    variant: str = ACCESSIBLE,
    attachments: Sequence[Carried] = (),
    issued: datetime | None = None,
    *,
    styles: ReadStyles | None = None,
) -> bytes:
    """The PDF of a page of this package; `styles` for a page that comes without its own.

    Dates are the protocol's date of issue and the file identifier is made from the HTML, so
    that equal input gives equal bytes with equal system libraries. Nothing but data inside
    the HTML is read. Raises PangoMissing without Pango or HarfBuzz.
    """
    weasyprint = _weasyprint()
    page = page_class()(
        string=html.decode("utf-8"),
        base_url=None,
        url_fetcher=_only_inside_fetcher(),
        media_type="print",
    )
    shared = {"stylesheets": [styles.sheet], "font_config": styles.fonts} if styles else {}
    with no_leftover_notes():
        document = page.render(pdf_variant=variant, **shared)
    if variant != ACCESSIBLE:
        document.metadata.generate_rdf_metadata = archive_metadata(document.metadata.generate_rdf_metadata)
    ordered = sorted(attachments, key=lambda item: item.name)
    with warnings.catch_warnings():
        # The setter leaves its own colour profile open.
        warnings.filterwarnings("ignore", "unclosed file", ResourceWarning)
        return document.write_pdf(
            pdf_identifier=hashlib.sha256(html).hexdigest()[:32].encode("ascii"),
            pdf_variant=variant,
            uncompressed_pdf=False,
            attachments=[
                weasyprint.Attachment(
                    string=item.content,
                    name=item.name,
                    description=item.description,
                    relationship=item.relationship,
                    created=issued,
                    modified=issued,
                )
                for item in ordered
            ],
            finisher=_Finisher(ordered),
        )


class _Finisher:
    """Last touches on the PDF's objects: what the setter leaves to the machine or does twice."""

    def __init__(self, attachments: Sequence[Carried]) -> None:
        self._attachments = attachments

    def __call__(self, document: Any, pdf: Any) -> None:
        media_types = iter(self._attachments)
        for item in pdf.objects:
            kind = getattr(item, "extra", {}).get("Type")
            if kind == "/EmbeddedFile":
                # The setter asks the system's list of media types, which differs between machines.
                item.extra["Subtype"] = "/" + next(media_types).media_type.replace("/", "#2f").replace("+", "#2b")
            elif kind == "/Metadata":
                item.compress = False  # a plain reader or grep finds what the file says of itself
        if "AF" in pdf.catalog:
            references = list(dict.fromkeys(pdf.catalog["AF"]))
            pdf.catalog["AF"][:] = references


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
