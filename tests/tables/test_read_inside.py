"""Only ordinary files below the folder are read, whatever the name or the file pretends to be."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from validate.tables.files import read_inside
from validate.vocabulary.problem import InputRefused


def refusal(folder: Path, name: str, largest_bytes: int = 1_000) -> str:
    with pytest.raises(InputRefused) as caught:
        read_inside(folder, name, largest_bytes=largest_bytes)
    [problem] = caught.value.problems
    return problem.code


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "secret.csv").write_bytes(b"outside")
    inside = tmp_path / "protocol"
    (inside / "data").mkdir(parents=True)
    (inside / "recovery.csv").write_bytes(b"a,b\n1,2\n")
    (inside / "data" / "lots.csv").write_bytes(b"c\n3\n")
    return inside


def test_file_in_the_folder_and_below_it_is_read(folder):
    assert read_inside(folder, "recovery.csv", largest_bytes=100) == b"a,b\n1,2\n"
    assert read_inside(folder, "data/lots.csv", largest_bytes=100) == b"c\n3\n"


@pytest.mark.parametrize(
    "name",
    ["../secret.csv", "data/../../secret.csv", "/etc/passwd", "", ".", "data//lots.csv", "./recovery.csv", "C:x.csv",
     "data\\lots.csv", "recovery.csv\0", "recovery.csv/"],
)  # fmt: skip
def test_path_that_leads_outside_or_is_not_plain_is_refused(folder, name):
    assert refusal(folder, name) == "file-outside"


def test_symbolic_link_is_refused_even_to_a_file_of_the_folder(folder):
    (folder / "link.csv").symlink_to(folder / "recovery.csv")
    assert refusal(folder, "link.csv") == "file-link"


def test_symbolic_link_on_the_way_is_refused(folder):
    (folder / "way").symlink_to(folder.parent, target_is_directory=True)
    assert refusal(folder, "way/secret.csv") == "file-link"


def test_dangling_and_circular_links_are_refused_as_links(folder):
    (folder / "dangling.csv").symlink_to("nowhere.csv")
    (folder / "circle.csv").symlink_to("circle.csv")
    assert refusal(folder, "dangling.csv") == "file-link"
    assert refusal(folder, "circle.csv") == "file-link"


def test_hard_link_is_refused(folder):
    os.link(folder.parent / "secret.csv", folder / "hard.csv")
    assert refusal(folder, "hard.csv") == "file-hard-link"


def test_folder_pipe_and_socket_are_refused_without_waiting(folder):
    os.mkfifo(folder / "pipe.csv")
    with socket.socket(socket.AF_UNIX) as server:
        # The path of a socket is short in most systems.
        here = os.open(".", os.O_RDONLY)
        os.chdir(folder)
        server.bind("socket.csv")
        os.fchdir(here)
        os.close(here)
    assert [refusal(folder, name) for name in ("data", "pipe.csv", "socket.csv")] == ["file-not-regular"] * 3


def test_largest_size_is_allowed_and_one_byte_more_is_not(folder):
    assert len(read_inside(folder, "recovery.csv", largest_bytes=8)) == 8
    assert refusal(folder, "recovery.csv", largest_bytes=7) == "file-too-large"


def test_missing_file_offers_the_nearest_name(folder):
    with pytest.raises(InputRefused) as caught:
        read_inside(folder, "recovry.csv", largest_bytes=100)
    assert caught.value.problems[0].mend == 'did you mean "recovery.csv"?'
    assert refusal(folder, "something else entirely") == "file-missing"


def test_file_in_place_of_a_folder_and_too_long_a_name_are_told(folder):
    assert refusal(folder, "recovery.csv/lots.csv") == "file-missing-near"
    assert refusal(folder, "x" * 5_000) == "file-unreadable"


def test_the_protocol_folder_itself_may_be_reached_through_a_link(folder):
    (folder.parent / "short").symlink_to(folder, target_is_directory=True)
    assert read_inside(folder.parent / "short", "data/lots.csv", largest_bytes=100) == b"c\n3\n"
