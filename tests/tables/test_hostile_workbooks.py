"""Whatever a workbook holds, reading ends within seconds, with a table or with a message that says what to do."""

from __future__ import annotations

import io
import time
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from validate.tables.archive import LARGEST_PART_BYTES
from validate.vocabulary.problem import ERROR

TYPES = (
    b'<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    b'<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.'
    b'spreadsheetml.sheet.main+xml"/></Types>'
)
PACKAGE = b"http://schemas.openxmlformats.org/package/2006/relationships"
OFFICE = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATIONS = b'<Relationships xmlns="%b"><Relationship Id="r1" Type="%b/%b" Target="%b"/></Relationships>'
HEADER = b"".join(
    b'<c t="inlineStr"><is><t>%b</t></is></c>' % name for name in (b"sample", b"added", b"found")
)  # fmt: skip
GOOD = b'<c t="inlineStr"><is><t>A</t></is></c><c><v>5</v></c><c><v>4.9</v></c>'


def sheet(*rows: bytes, after: bytes = b"", before: bytes = b"") -> bytes:
    data = b"".join(b"<row>%b</row>" % row for row in (HEADER, *rows))
    return before + b'<worksheet xmlns="%b"><sheetData>%b</sheetData>%b</worksheet>' % (MAIN, data, after)


def ended(more: bytes) -> bytes:
    """A sheet with a header and `more` before its data end."""
    return sheet().replace(b"</sheetData>", more + b"</sheetData>")


def archive(*, more: dict[str, bytes] | None = None, **parts: bytes) -> bytes:
    """A minimal workbook of one sheet; parts are replaced by `types`, `workbook`, `relations`, `sheet1`."""
    contents = {
        "[Content_Types].xml": parts.get("types", TYPES),
        "_rels/.rels": RELATIONS % (PACKAGE, OFFICE, b"officeDocument", b"xl/workbook.xml"),
        "xl/workbook.xml": parts.get(
            "workbook",
            b'<workbook xmlns="%b" xmlns:r="%b"><sheets><sheet name="S" sheetId="1" r:id="r1"/></sheets></workbook>'
            % (MAIN, OFFICE),
        ),
        "xl/_rels/workbook.xml.rels": parts.get(
            "relations", RELATIONS % (PACKAGE, OFFICE, b"worksheet", b"worksheets/sheet1.xml")
        ),
        "xl/worksheets/sheet1.xml": parts.get("sheet1", sheet(GOOD)),
        **(more or {}),
    }
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in contents.items():
            packed.writestr(name, content)
    return stream.getvalue()


def answers(reading) -> bool:
    errors = [p for p in reading.problems if p.severity == ERROR]
    assert bool(errors) == (reading.reported is None) == (reading.recorded is None)
    assert all(str(problem) for problem in reading.problems)
    return True


def test_minimal_workbook_is_read(read_workbook):
    assert read_workbook(archive()).reported.frame["found"].tolist() == [4.9]


DTD = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
OUTSIDE = b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>'
LINKED = sheet(b'<c t="inlineStr"><is><t>A</t></is></c><c><v>5</v></c><c><f>[1]Sheet1!A1</f><v>4.9</v></c>')


def million_rows() -> bytes:
    numbered = b"".join(
        b'<row r="%d"><c r="A%d" t="str"><v>R-%d</v></c><c r="B%d"><v>5</v></c><c r="C%d"><v>4.9</v></c></row>'
        % (i, i, i, i, i)
        for i in range(2, 1_000_001)
    )
    return archive(sheet1=b'<worksheet><sheetData><row r="1">%b</row>%b</sheetData></worksheet>' % (HEADER, numbered))


def noise(length: int) -> bytes:
    """Text that packs no better than a table does, from a fixed rule."""
    return b"".join(b"%d " % (i * i) for i in range(length // 12))[:length]


def bomb() -> bytes:
    return archive(sheet1=b" " * (LARGEST_PART_BYTES - 1))


def large() -> bytes:
    return archive(more={"xl/media/x": b"\0" * (LARGEST_PART_BYTES + 1)})


def empty_cells() -> bytes:
    cells = b"".join(b'<c s="%d"/>' % (i % 977) for i in range(16_000))
    return archive(sheet1=sheet(*[cells] * 400))


def endless_comment() -> bytes:
    return archive(sheet1=sheet(GOOD, before=b"<!-- %b -->" % noise(30_000_000)))


HOSTILE = {
    "macro": (archive(more={"xl/vbaProject.bin": b"x"}), "workbook-macros"),
    "macro-kind": (archive(types=TYPES.replace(b"officedocument.spreadsheetml.sheet", b"ms-excel.sheet.macroEnabled")),
                   "workbook-macros"),
    "old-macro": (archive(more={"xl/macrosheets/sheet1.xml": b"<x/>"}), "workbook-macros"),
    "entities": (archive(sheet1=sheet(GOOD, before=DTD)), "workbook-declarations"),
    "outside": (archive(sheet1=sheet(GOOD, before=OUTSIDE)), "workbook-declarations"),
    "entities-in-texts": (archive(workbook=DTD + b"<workbook/>"), "workbook-declarations"),
    "link": (archive(sheet1=LINKED, more={"xl/externalLinks/externalLink1.xml": b"<x/>"}), "cell-formula-linked"),
    "bomb": (bomb, "workbook-too-large"),
    "large": (large, "workbook-too-large"),
    "many-parts": (archive(more={f"x{i}": b"" for i in range(2_100)}), "workbook-too-many-parts"),
    "million-rows": (million_rows, "workbook-sheet-too-long"),
    "empty-cells": (empty_cells, "workbook-sheet-too-long"),
    "endless-comment": (endless_comment, "workbook-damaged"),
    "nested": (archive(sheet1=sheet(GOOD, b"<x>" * 100_000)), "workbook-damaged"),
    "far-row": (archive(sheet1=ended(b'<row r="9999999"/>')), "workbook-damaged"),
    "rows-backwards": (archive(sheet1=ended(b'<row r="1"/>')), "workbook-damaged"),
    "far-column": (archive(sheet1=sheet(b'<c r="XFD2"><v>1</v></c>')), "table-too-wide"),
    "no-column": (archive(sheet1=sheet(b'<c r="ZZZ2"><v>1</v></c>')), "workbook-damaged"),
    "other-row": (archive(sheet1=sheet(b'<c r="A7"><v>1</v></c>')), "workbook-damaged"),
    "no-text": (archive(sheet1=sheet(b'<c t="s"><v>7</v></c>')), "workbook-damaged"),
    "long-text": (archive(sheet1=sheet(b'<c t="str"><v>%b</v></c>' % (b"xy" * 60_000))), "workbook-damaged"),
    "cut": (archive(sheet1=sheet(GOOD)[:-20]), "workbook-damaged"),
    "no-sheet": (archive(relations=b"<Relationships/>"), "workbook-damaged"),
    "sheet-elsewhere": (archive(relations=RELATIONS % (PACKAGE, OFFICE, b"worksheet", b"../../../etc/passwd")),
                        "workbook-damaged"),
    "twice": (archive(more={"XL/workbook.xml": b"<x/>"}), "workbook-damaged"),
    "not-a-number": (archive(sheet1=sheet(GOOD, b"<c/><c><v>5</v></c><c><v>1_0</v></c>")), "cell-no-number"),
    "infinite": (archive(sheet1=sheet(GOOD, GOOD.replace(b"4.9", b"1e999"))), "cell-not-finite"),
    "date-too-far": (archive(sheet1=sheet(GOOD.replace(b"<c><v>4.9", b'<c t="d"><v>9999999-01-01'))), "cell-no-number"),
    "empty": (archive(sheet1=b"<worksheet><sheetData/></worksheet>"), "workbook-sheet-empty"),
    "only-header": (archive(sheet1=sheet()), "table-no-rows"),
    "text": (b"sample,added,found\nA,5,4.9\n", "workbook-none"),
    "nothing": (b"", "workbook-none"),
    "zip-without-workbook": (archive(workbook=b"<x/>", relations=b"<x/>"), "workbook-damaged"),
    "encrypted": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"),
                  "workbook-encrypted"),
    "old-format": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "workbook-other-kind"),
    "binary-format": (archive(more={"xl/workbook.bin": b"x"}), "workbook-other-kind"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_and_damaged_workbooks_end_in_a_message_within_seconds(read_workbook, name):
    made, code = HOSTILE[name]
    content = made() if callable(made) else made
    start = time.perf_counter()
    reading = read_workbook(content)
    assert time.perf_counter() - start < 20
    assert code in [problem.code for problem in reading.problems]
    assert answers(reading)


def test_macro_file_is_told_by_its_name_too(read):
    content = archive(more={"xl/vbaProject.bin": b"x"})
    assert [p.code for p in read(content, file="r.xlsm").problems] == ["workbook-macros"]


def test_link_beside_plain_values_is_told_and_not_followed(read_workbook):
    reading = read_workbook(archive(more={"xl/externalLinks/externalLink1.xml": b"<x/>"}))
    assert [(p.code, p.severity) for p in reading.problems] == [("workbook-links", "notice")]
    assert reading.reported is not None


def test_text_that_looks_like_a_formula_stays_text(read_workbook):
    book = openpyxl.Workbook()
    book.active.title = "S"
    for row in (("sample", "added", "found"), ("x", 5, 4.9), ("B", 5, "x")):
        book.active.append(row)
    for cell, text in (("A2", "=cmd|' /C calc'!A0"), ("C3", "=1+2")):
        book.active[cell].value = text
        book.active[cell].data_type = "s"
    told = {p.code: str(p.place) for p in read_workbook(book).problems}
    assert told == {"label-formula": "protocols/invented/r.xlsx!S!A2", "cell-formula": "protocols/invented/r.xlsx!S!C3"}


def test_archive_whose_parts_lie_over_each_other_is_refused(read_workbook):
    """Many directory entries that point at the same packed bytes unpack to more than the file could hold."""
    content = bytearray(archive(more={"a.bin": bytes(range(256)) * 40, "b.bin": bytes(range(256)) * 40}))
    with zipfile.ZipFile(io.BytesIO(bytes(content))) as packed:
        first, second = (packed.getinfo(name) for name in ("a.bin", "b.bin"))
    directory = content.rindex(b"b.bin") - 46
    content[directory + 42 : directory + 46] = first.header_offset.to_bytes(4, "little")
    content[directory + 20 : directory + 24] = (len(content) + second.compress_size).to_bytes(4, "little")
    assert [p.code for p in read_workbook(bytes(content)).problems] == ["workbook-damaged"]


def test_encrypted_part_is_told(read_workbook):
    content = bytearray(archive())
    content[content.rindex(b"PK\x01\x02") + 8] |= 1
    assert [p.code for p in read_workbook(bytes(content)).problems] == ["workbook-encrypted"]


shared_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100, deadline=None)
PIECES = st.sampled_from(
    [b"<row>", b"</row>", b'<row r="3">', b"<c>", b'<c r="B3">', b'<c t="s">', b'<c t="inlineStr">', b"</c>", b"<v>",
     b"</v>", b"<f>", b"</f>", b"<is>", b"</is>", b"<t>", b"</t>", b"5", b"4.9", b"x", b"&amp;", b"&x;", b"<![CDATA[",
     b"]]>", b"<!--", b"-->", b"<rPh>", b"</rPh>", b"\xff", b" ", GOOD, b"<row>" + GOOD + b"</row>"]
)  # fmt: skip


@shared_folder
@given(pieces=st.lists(PIECES, max_size=30))
def test_anything_like_a_sheet_ends_in_a_table_or_in_problems(read_workbook, pieces):
    assert answers(read_workbook(archive(sheet1=ended(b"".join(pieces)))))


@shared_folder
@given(position=st.integers(0, 10_000), byte=st.integers(0, 255), cut=st.booleans())
def test_any_changed_byte_or_cut_ends_in_a_table_or_in_problems(read_workbook, position, byte, cut):
    content = bytearray(archive())
    position %= len(content)
    content[position] = byte
    assert answers(read_workbook(bytes(content[:position] if cut else content)))
