"""The archived PDF keeps to PDF/A and PDF/UA, and carries its files with what they are to it."""

from __future__ import annotations

import io
import re

import pikepdf
import pytest

from validate.dossier.pdf import render_pdf
from validate.vocabulary.carried import Carried
from validate.vocabulary.evaluation import Evaluation

FILES = (
    Carried("protocol.yaml", b"id: X\n", "Protocol as it was read", "Source", "application/yaml"),
    Carried("data/r\u00e9sultats.csv", b"a,b\n1,2\n", "Table as it was read", "Source", "text/csv"),
    Carried("evaluation.json", b"{}", "Every finding", "Data", "application/json"),
    Carried("copy.json", b"{}", "The same bytes under another name", "Supplement", "application/json"),
    Carried("seal.tsr", b"\x30\x00", "Trusted time", "Source", "application/timestamp-reply"),
)


@pytest.fixture(scope="module")
def archived(html: str, evaluation: Evaluation) -> bytes:
    return render_pdf(html.encode(), evaluation, FILES)


@pytest.fixture(scope="module")
def without(html: str, evaluation: Evaluation) -> bytes:
    return render_pdf(html.encode(), evaluation, FILES, archive="pdf/a-2")


def opened(content: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(content))


def complaints(content: bytes, profile: str) -> set[str]:
    """Rules of the lint that are broken, without the one that is explained below."""
    page = pytest.importorskip("page")
    report = page.validate_pdf_bytes(content, profile=getattr(page.ValidationProfile, profile))
    rules = {failure.rule_id for failure in report.failures}
    return {rule for rule in rules if not (rule.endswith("STREAM-LENGTH-001") and every_length_is_right(content))}


def every_length_is_right(content: bytes) -> bool:
    """The lint takes a line end that belongs to a stream's data for the one before `endstream`.

    So it reports packed data whose last byte is CR or LF. Here every length is counted: after
    exactly so many bytes the stream ends.
    """
    streams = list(re.finditer(rb"/Length (\d+)[^>]*>>\s*stream\r?\n", content))
    ends = [content[found.end() + int(found[1]) :][:12] for found in streams]
    return bool(streams) and all(re.match(rb"\r?\n?endstream", end) for end in ends)


@pytest.mark.parametrize("profile", ["PDF_A_3A", "PDF_UA_1"])
def test_pdf_with_attachments_breaks_no_rule(archived, profile):
    assert complaints(archived, profile) == set()


@pytest.mark.parametrize("profile", ["PDF_A_2A", "PDF_UA_1"])
def test_pdf_without_attachments_breaks_no_rule(without, profile):
    assert complaints(without, profile) == set()


def test_it_declares_both_standards(archived):
    with opened(archived) as pdf, pdf.open_metadata() as metadata:
        assert (metadata["pdfaid:part"], metadata["pdfaid:conformance"], metadata["pdfuaid:part"]) == ("3", "A", "1")


def test_each_attachment_says_what_it_is(archived):
    with opened(archived) as pdf:
        found = {str(spec.obj.UF): described(spec) for spec in pdf.attachments.values()}
    unlike = [f for f in FILES if f.name != "copy.json"]
    assert found == {f.name: (f.relationship, f.description, f.content, f.media_type) for f in unlike} | {
        # Files of the same content share their relationship: the setter tells them apart by their content.
        "copy.json": (found["evaluation.json"][0], FILES[3].description, b"{}", "application/json")
    }


def described(spec: pikepdf.AttachedFileSpec) -> tuple[str, str, bytes, str]:
    relationship, kind = str(spec.obj.AFRelationship).lstrip("/"), str(spec.obj.EF.F.Subtype).lstrip("/")
    return relationship, spec.description, spec.get_file().read_bytes(), kind


def test_every_attachment_is_associated_with_the_document_once(archived):
    with opened(archived) as pdf:
        associated = [spec.objgen for spec in pdf.Root.AF]
        names = list(pdf.Root.Names.EmbeddedFiles.Names)
        files, keys = [item.objgen for item in names[1::2]], [bytes(key) for key in names[0::2]]
    assert associated == files and keys == sorted(keys)


def test_dates_of_attachments_are_the_date_of_issue(archived):
    with opened(archived) as pdf:
        params = [spec.obj.EF.F.Params for spec in pdf.attachments.values()]
        dates = {str(each[key]) for each in params for key in ("/CreationDate", "/ModDate")}
    assert dates == {"D:20310303000000Z"}


def test_archive_that_takes_no_attachments_gets_none(without):
    with opened(without) as pdf:
        assert len(pdf.attachments) == 0 and "/AF" not in pdf.Root and "/EmbeddedFiles" not in pdf.Root.Names


def test_every_font_is_embedded(archived):
    with opened(archived) as pdf:
        dictionaries = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary)]
        descriptors = [o for o in dictionaries if o.get("/Type") == "/FontDescriptor"]
        assert descriptors
        assert all(any(key in d for key in ("/FontFile", "/FontFile2", "/FontFile3")) for d in descriptors)


def test_every_picture_has_an_alternative_text(archived):
    with opened(archived) as pdf:
        figures = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/S") == "/Figure"]
        assert figures and all(str(figure.get("/Alt", "")).strip() for figure in figures)


def test_metadata_can_be_read_without_unpacking(archived):
    assert b"<pdfuaid:part>1</pdfuaid:part>" in archived
