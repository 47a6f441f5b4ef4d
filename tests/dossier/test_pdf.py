"""The PDF is tagged, titled, dated by the protocol, and reads nothing but what is in it."""

from __future__ import annotations

import io
import sys
from importlib.machinery import ModuleSpec

import pikepdf
import pytest

from validate.dossier.pdf import PACKAGES, PangoMissing, render_pdf
from validate.vocabulary.evaluation import Evaluation


@pytest.fixture(scope="module")
def pdf(html: str, evaluation: Evaluation) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(render_pdf(html.encode(), evaluation)))


def test_it_is_tagged_with_language_and_title(pdf: pikepdf.Pdf) -> None:
    assert bool(pdf.Root.MarkInfo.Marked) and pdf.Root.Lang == "en"
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
    with pdf.open_metadata() as metadata:
        assert metadata["pdfuaid:part"] == "1"
        assert "Ochratoxin A in green coffee" in metadata["dc:title"]


def test_dates_are_the_date_of_issue(pdf: pikepdf.Pdf) -> None:
    assert str(pdf.docinfo["/CreationDate"]).startswith("D:20310303")
    assert str(pdf.docinfo["/ModDate"]).startswith("D:20310303")


def test_bookmarks_follow_the_parts(pdf: pikepdf.Pdf) -> None:
    with pdf.open_outline() as outline:
        titles = [item.title for item in outline.root]
    assert [title[:1] for title in titles[:8]] == list("12345678") and titles[-1] == "Glossary"


def test_pages_are_a4_and_their_type_area_fits_letter(pdf: pikepdf.Pdf) -> None:
    """A4 is 210 mm × 297 mm, Letter 215.9 mm × 279.4 mm; margins leave 244 mm of type and room for the heads."""
    boxes = {tuple(round(float(v)) for v in page.MediaBox) for page in pdf.pages}
    assert boxes == {(0, 0, 595, 842)}


def test_only_fonts_of_the_package_are_embedded(pdf: pikepdf.Pdf) -> None:
    names = {
        str(font.BaseFont).split("+")[-1]
        for page in pdf.pages
        for font in page.Resources.get("/Font", pikepdf.Dictionary()).values()
    }
    assert names and all("Dossier" in name or "Libertinus" in name or "DejaVu-Sans-Mono" in name for name in names)


def test_there_is_no_action_and_no_link_to_another_place(pdf: pikepdf.Pdf) -> None:
    kinds = {str(o.get("/S")) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/URI" in o}
    scripts = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/S") == "/JavaScript"]
    assert not kinds and not scripts


def test_lists_hold_items_and_tables_hold_rows_in_the_tag_tree(pdf: pikepdf.Pdf) -> None:
    """ISO 14289-1 asks for it (from memory): a screen reader counts the items of a list."""
    allowed = {"/L": {"/L", "/LI", "/Caption"}, "/Table": {"/TR", "/THead", "/TBody", "/TFoot", "/Caption"}}
    elements = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and str(o.get("/S")) in allowed]
    assert elements
    for element in elements:
        kinds = {str(kid.S) for kid in element.K if isinstance(kid, pikepdf.Dictionary) and "/S" in kid}
        assert kinds <= allowed[str(element.S)]


def test_addresses_are_refused(tmp_path, evaluation: Evaluation) -> None:
    """Neither a file nor a host is read, even if a page should name one."""
    secret = tmp_path / "secret.png"
    secret.write_bytes(b"not a picture")
    from validate.dossier.pdf import _only_inside_fetcher

    for address in (secret.as_uri(), "http://192.0.2.1/x", "ftp://192.0.2.1/x"):
        with pytest.raises(ValueError, match="disallowed"):
            _only_inside_fetcher().fetch(address)
    assert _only_inside_fetcher().fetch("data:,x").read() == b"x"


def test_without_pango_the_packages_are_named(monkeypatch, evaluation: Evaluation) -> None:
    """Importing the setter raises OSError where the libraries are missing, as dlopen does."""

    class Missing:
        def find_spec(self, name: str, path=None, target=None) -> ModuleSpec | None:
            if name.split(".")[0] == "weasyprint":
                raise OSError("cannot load library 'libpango-1.0-0'")
            return None

    for name in [name for name in sys.modules if name.split(".")[0] == "weasyprint"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(PangoMissing, match=PACKAGES):
        render_pdf(b"<p>x", evaluation)
