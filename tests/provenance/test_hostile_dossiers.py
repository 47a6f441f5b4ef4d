"""A file that nobody vouches for ends in exit 2 within seconds, and nothing leaves the scratch folder."""

import base64
import time
import zlib

import pikepdf
import pytest

from tests.provenance.forging import add_attachment, attached, change_attachment, replace
from validate.cli import main
from validate.provenance import opening
from validate.provenance.opening import NotADossier, open_dossier

SECONDS = 20
"""A busy machine needs this long for a large but honest file; a bomb must not take longer."""


def refused(path, capsys) -> str:
    start = time.monotonic()
    assert main(["recompute", str(path)]) == 2
    assert time.monotonic() - start < SECONDS
    message = capsys.readouterr().err
    assert message.strip() and "Traceback" not in message
    return message


@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.9, 0.999])
def test_truncated_pdf(pdf, share, capsys):
    """A file cut in its middle may be mended by a reader; it is then no whole dossier."""
    content = pdf.read_bytes()
    pdf.write_bytes(content[: int(share * len(content))])
    assert main(["recompute", str(pdf)]) in ((2,) if share < 0.99 else (0, 1, 2))
    assert "Traceback" not in capsys.readouterr().err


def test_encrypted_pdf(pdf, capsys):
    for secret in ("", "secret"):
        with pikepdf.open(pdf, allow_overwriting_input=True, password="") as opened:
            opened.save(pdf, encryption=pikepdf.Encryption(owner="owner", user=secret))
        assert "encrypted" in refused(pdf, capsys)


@pytest.mark.parametrize(
    "content", [b"", b"%PDF-1.7\n", b"PK\x03\x04 no pdf", b"\x00" * 1000, b"%PDF-1.7\n%%EOF\n" * 500]
)
def test_what_is_no_pdf(tmp_path, content, capsys):
    (tmp_path / "x.pdf").write_bytes(content)
    refused(tmp_path / "x.pdf", capsys)


def test_pdf_of_another_origin(tmp_path, capsys):
    other = pikepdf.new()
    other.add_blank_page()
    other.save(tmp_path / "other.pdf")
    assert "no dossier of this software" in refused(tmp_path / "other.pdf", capsys)


@pytest.mark.parametrize(
    "name",
    [
        "../evil.csv",
        "/etc/evil",
        "a/../../evil",
        "C:\\evil",
        "..\\evil",
        "a//b",
        "evil\n",
        "nul\0",
        "x" * 300,
        ".",
        "a/",
    ],
)
def test_attachment_whose_name_leads_out_of_its_folder(pdf, tmp_path, name, capsys):
    add_attachment(pdf, name, b"x")
    before = {path for path in tmp_path.parent.rglob("*evil*")}
    assert "name" in refused(pdf, capsys)
    assert {path for path in tmp_path.parent.rglob("*evil*")} == before


def test_carried_files_that_stand_in_each_others_way(pdf, capsys):
    add_attachment(pdf, "recovery.csv/inner.csv", b"x")
    assert main(["recompute", str(pdf)]) == 2
    assert "in each other's way" in capsys.readouterr().err


def test_ten_thousand_attachments(pdf, capsys):
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        stream = opened.make_stream(b"x")
        spec = opened.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.Filespec, EF=pikepdf.Dictionary(F=stream)))
        names = pikepdf.Array([item for i in range(10_000) for item in (pikepdf.String(f"f{i}"), spec)])
        opened.Root.Names.EmbeddedFiles = opened.make_indirect(pikepdf.Dictionary(Names=names))
        opened.save(pdf)
    assert "more than 500 attachments" in refused(pdf, capsys)


def test_list_of_attachments_that_contains_itself(pdf, capsys):
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        tree = opened.make_indirect(pikepdf.Dictionary())
        tree.Kids = pikepdf.Array([tree, tree])
        opened.Root.Names.EmbeddedFiles = tree
        opened.save(pdf)
    assert "too deep" in refused(pdf, capsys)


def test_bomb_in_an_attachment(pdf, capsys):
    packed = zlib.compress(b"\0" * 300_000_000)
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        stream = pikepdf.Stream(opened, packed, Filter=pikepdf.Name.FlateDecode, Type=pikepdf.Name.EmbeddedFile)
        opened.attachments["recovery.csv"].obj.EF.F = opened.make_indirect(stream)
        opened.save(pdf, stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    assert "more than a dossier may carry" in refused(pdf, capsys)


def test_bomb_packed_twice(pdf, capsys):
    packed = zlib.compress(zlib.compress(b"\0" * 100_000_000))
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        filters = pikepdf.Array([pikepdf.Name.FlateDecode, pikepdf.Name.FlateDecode])
        stream = pikepdf.Stream(opened, packed, Filter=filters, Type=pikepdf.Name.EmbeddedFile)
        opened.attachments["recovery.csv"].obj.EF.F = opened.make_indirect(stream)
        opened.save(pdf, stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    assert "packed in a way that no dossier is" in refused(pdf, capsys)


def test_bomb_in_the_content_of_a_page(pdf, capsys):
    packed = zlib.compress(b"q Q " * 100_000_000, 9)
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        stream = pikepdf.Stream(opened, packed, Filter=pikepdf.Name.FlateDecode)
        opened.pages[0].Contents = opened.make_indirect(stream)
        opened.save(pdf, stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    refused(pdf, capsys)


def test_script_note_and_layer_are_named(pdf, capsys):
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        action = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.alert(1)"))
        opened.Root.OpenAction = action
        note = pikepdf.Dictionary(
            Type=pikepdf.Name.Annot,
            Subtype=pikepdf.Name.FreeText,
            Rect=[0, 0, 100, 100],
            Contents=pikepdf.String("met"),
        )
        opened.pages[0].Annots = pikepdf.Array([*opened.pages[0].Annots, opened.make_indirect(note)])
        opened.save(pdf)
    assert main(["recompute", str(pdf)]) == 1
    out = capsys.readouterr().out
    assert "an action on opening" in out and "page 1 has a note or link that is not the dossier's" in out


def test_words_set_over_a_page_are_found(pdf, capsys):
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        page = opened.pages[0]
        font = next(iter(page.Resources.Font.keys())).encode()
        page.Contents.write(page.Contents.read_bytes() + b" BT " + font + b" 12 Tf 100 100 Td <00240050> Tj ET")
        opened.save(pdf)
    assert main(["recompute", str(pdf)]) == 1
    assert "words that do not belong to its text" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["manifest.json", "evaluation.json"])
@pytest.mark.parametrize(
    "content", [b"", b"[]", b"{}", b'{"format":2}', b"[" * 100_000, b'{"format":1}', b"\xff\xfe", b"1e999"]
)
def test_manifest_or_evaluation_that_is_none(pdf, name, content, capsys):
    change_attachment(pdf, name, lambda _: content)
    refused(pdf, capsys)


def test_evaluation_of_another_build_is_damaged_and_no_traceback(pdf, capsys):
    change_attachment(pdf, "evaluation.json", lambda e: e.replace(b'"findings":', b'"fundings":'))
    assert "damaged" in refused(pdf, capsys)


def test_hostile_protocol_runs_no_code_and_reads_nothing_outside(pdf, tmp_path, capsys):
    secret = tmp_path / "secret.csv"
    secret.write_text("sample,added,found\nS,5,4.2\n", "utf-8")
    for text in (f"file: {secret}", "file: ../secret.csv", "file: !!python/object/apply:os.system [id]"):
        change_attachment(pdf, "protocol.yaml", lambda p, t=text: p.replace(b"file: recovery.csv", t.encode()))
        assert main(["recompute", str(pdf)]) == 1
        out = capsys.readouterr().out
        assert "can no longer be evaluated" in out and "4.2" not in out
        change_attachment(pdf, "protocol.yaml", lambda p, t=text: p.replace(t.encode(), b"file: recovery.csv"))


def page_with(folder, old: str, new: str) -> None:
    page = (folder / "dossier.html").read_text("utf-8")
    assert old in page
    (folder / "dossier.html").write_text(page.replace(old, new, 1), "utf-8")


def test_page_whose_carried_names_lead_out_of_the_folder(folder, capsys):
    page_with(folder, 'data-carried="recovery.csv"', 'data-carried="../../recovery.csv"')
    assert "leads out" in refused(folder, capsys)


def test_page_whose_carried_file_is_damaged(folder, capsys):
    page_with(folder, "data:text/csv;base64,", "data:text/csv;base64,%%%")
    assert "damaged" in refused(folder, capsys)


def test_page_that_carries_a_name_twice(folder, capsys):
    link = f'<a data-carried="recovery.csv" href="data:,{base64.b64encode(b"x").decode()}">x</a>'
    page_with(folder, "</main>", link + "</main>")
    assert "two files of the name" in refused(folder, capsys)


def test_folder_that_is_no_dossier(tmp_path, capsys):
    assert "is no folder of a dossier" in refused(tmp_path, capsys)


def test_link_in_a_folder_is_not_followed(folder, capsys):
    target = folder.parent / "elsewhere.json"
    (folder / "evaluation.json").rename(target)
    (folder / "evaluation.json").symlink_to(target)
    assert "no plain file" in refused(folder, capsys)


def test_reader_that_takes_too_long_is_stopped(pdf, monkeypatch):
    monkeypatch.setattr(opening, "SECONDS", 0.01)
    with pytest.raises(NotADossier, match="takes longer"):
        open_dossier(pdf)


def test_attachment_of_the_same_content_under_a_second_name_is_no_way_in(pdf, capsys):
    with pikepdf.open(pdf, allow_overwriting_input=True) as opened:
        replace(opened, "Recovery.csv", attached(pdf)["recovery.csv"])
        opened.save(pdf)
    assert main(["recompute", str(pdf)]) == 1
    assert "Recovery.csv: not named by the manifest" in capsys.readouterr().out
