"""Hostile and damaged files end in a message, soon, and never in a traceback."""

import os
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from validate.protocol.loading import load_protocol
from validate.protocol.reading import read_tree

SECONDS = 5
"""Generous for a busy machine; the files below take a fraction of a second."""

LAUGHS = 'a: &a ["x","x"]\n' + "".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{','.join([f'*{chr(97 + i)}'] * 9)}]\n" for i in range(20)
)
HOSTILE = {
    "billion laughs": (LAUGHS.encode(), "anchor"),
    "deep brackets": (b"a: " + b"[" * 1_000_000, "file-too-large"),
    "just under a megabyte of brackets": (b"[" * 999_999, "too-deep"),
    "deep braces": (b"{a: " * 200_000, "too-deep"),
    "deep block lists": (b"- " * 400_000 + b"x", "too-deep"),
    "deep indentation": ("".join(" " * i + "a:\n" for i in range(1000)).encode(), "too-deep"),
    "closed brackets": (b"[],\n" * 200_000, "unexpected-text"),
    "many values": (b"a: [" + b"x," * 300_000 + b"x]", "too-many-values"),
    "many keys": ("".join(f"key{i}: 1\n" for i in range(20_000)).encode(), "more-problems"),
    "more wrong values than are read": (b"use: [" + b"[]," * 150_000 + b"]", "too-many-values"),
    "more studies than are read": (
        b"studies:\n" + b"".join(b" s%d: {kind: z}\n" % i for i in range(40_000)),
        "too-many-values",
    ),
    "many wrong values": (b"use: [" + b"[]," * 40_000 + b"]", "more-problems"),
    "many studies": (b"studies:\n" + b"".join(b" s%d: {kind: z}\n" % i for i in range(12_000)), "more-problems"),
    "one long key": (b"k" * 900_000 + b": 1", "colon-out-of-place"),
    "one long text": (b"title: " + b"x" * 900_000, "too-long"),
    "one long number": (b"format: " + b"9" * 900_000, "unknown-format"),
    "an endless quotation": (b'a: "' + b"x\n" * 400_000, "unclosed-quote"),
    "many question marks": (b"? " * 400_000, "key-not-text"),
    "many anchors": (b"&a " * 300_000, "unexpected-text"),
    "NUL bytes": (b"format: 1\nid: a\x00b\n", "control-character"),
    "only NUL bytes": (b"\x00" * 1000, "control-character"),
    "terminal escapes": (b"title: \x1b]0;owned\x07\x1b[2J\n", "control-character"),
    "text that runs backwards": ("title: user\u202etxt.exe\n".encode(), "control-character"),
    "UTF-16": ("format: 1\n".encode("utf-16"), "not-utf-8"),
    "cp1252": ("matrix: Käse\n".encode("cp1252"), "not-utf-8"),
    "a bitmap": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not-utf-8"),
    "nothing": (b"", "empty-protocol"),
    "only comments": (b"# nothing\n\n", "empty-protocol"),
    "only a byte order mark": (b"\xef\xbb\xbf", "empty-protocol"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_ends_in_a_message_soon(name, load):
    content, code = HOSTILE[name]
    started = time.monotonic()
    loaded = load(content)
    assert time.monotonic() - started < SECONDS
    assert loaded.protocol is None
    assert code in {problem.code for problem in loaded.problems}
    assert len(loaded.problems) <= 101
    assert all(len(str(problem)) < 3000 for problem in loaded.problems)


@pytest.mark.parametrize("name", [name for name in HOSTILE if not name.startswith("many")])
def test_no_message_carries_a_character_that_acts_on_a_terminal(name, load):
    for problem in load(HOSTILE[name][0]).problems:
        assert all(c.isprintable() or c == "\n" for c in str(problem))


def test_the_place_of_a_damaged_byte_is_told(load):
    loaded = load("id: ok\nmatrix: Käse\n".encode("cp1252"))
    place = loaded.problems[0].place
    assert (place.line, place.column) == (2, 10)
    assert 'E4 ("ä" in cp1252)' in loaded.problems[0].message


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(content):
    read_tree(content, "protocol.yaml")


YAML_PIECES = st.lists(
    st.sampled_from(
        [
            *(
                "format: 1",
                "studies:",
                "studies: {a: {kind: spiked}}",
                "  first:",
                "    kind: spiked",
                "method: {unit: g}",
            ),
            *(
                "- ",
                "? ",
                ": ",
                "[",
                "]",
                "{",
                "}",
                "\t",
                "|",
                ">",
                "&a ",
                "*a",
                "!t ",
                '"',
                "'",
                "#",
                "%",
                "---",
                "...",
            ),
            *("use: [a]", "accept: {a: {at_most: 1}}", "amendments: [{data: a}]", "materials: {a: {U: 3 %}}", "<<: *a"),
            *("claims: {x: {source: y}}", "origin: {data: published}", "1", "null", "~", "é", "\ufeff"),
            *("\n", "\n", "\n", "\r\n"),
        ]
    ),
    max_size=30,
).map("".join)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.one_of(YAML_PIECES, st.text(max_size=200)))
def test_loading_never_raises(tmp_path, kinds, text):
    path = tmp_path / "protocol.yaml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    loaded = load_protocol(path, kinds)
    assert loaded.problems or loaded.protocol is not None


def test_a_link_is_not_followed(tmp_path, kinds):
    secret = tmp_path / "secret.yaml"
    secret.write_text("id: secret\n", encoding="utf-8")
    (tmp_path / "work").mkdir()
    (tmp_path / "work" / "protocol.yaml").symlink_to(secret)
    loaded = load_protocol(tmp_path / "work", kinds)
    assert (loaded.protocol, loaded.content) == (None, b"")
    assert [problem.code for problem in loaded.problems] == ["file-link"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_a_pipe_does_not_block(tmp_path, kinds):
    os.mkfifo(tmp_path / "protocol.yaml")
    assert [problem.code for problem in load_protocol(tmp_path, kinds).problems] == ["file-not-regular"]


@pytest.mark.parametrize("name", ["nothing-here.yaml", "no-folder/protocol.yaml", ".", "x" * 300])
def test_a_missing_file_is_a_problem_with_the_path_as_typed(tmp_path, kinds, name):
    path = tmp_path / name
    loaded = load_protocol(path, kinds)
    assert loaded.protocol is None
    assert [problem.place.line for problem in loaded.problems] == [None]
    assert loaded.problems[0].place.file == (path / "protocol.yaml" if name == "." else path).as_posix()
