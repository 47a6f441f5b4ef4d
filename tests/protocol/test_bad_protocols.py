"""Every fixture in bad/ gives exactly the problems that its comments announce, on exactly these lines."""

import re
import tomllib
from collections import Counter
from pathlib import Path

import pytest
import yaml

from validate.protocol import reading
from validate.protocol.loading import load_protocol
from validate.protocol.translating import PROBLEMS

FOLDER = Path(__file__).parent / "bad"
FIXTURES = sorted(FOLDER.glob("*.yaml"))
ANNOUNCED = re.compile(r"# problem: ([a-z0-9, -]+)")
ELSEWHERE = {
    *("not-utf-8", "control-character", "empty-protocol", "too-deep", "too-many-values"),
    *("more-problems", "too-long", "too-many-entries", "wrong-value"),
}
"""Shown in test_hostile_protocols.py and test_messages.py: they need generated input."""


def announced(path: Path) -> Counter:
    lines = path.read_text(encoding="utf-8").splitlines()
    return Counter(
        (number, code)
        for number, line in enumerate(lines, start=1)
        for match in ANNOUNCED.finditer(line)
        for code in match[1].split(", ")
    )


@pytest.mark.parametrize("path", FIXTURES, ids=lambda path: path.stem)
def test_exactly_the_announced_problems_on_exactly_these_lines(path, kinds):
    loaded = load_protocol(path, kinds)
    assert Counter((problem.place.line, problem.code) for problem in loaded.problems) == announced(path)


@pytest.mark.parametrize("path", FIXTURES, ids=lambda path: path.stem)
def test_both_parsers_of_the_yaml_library_lead_to_the_same_problems(path, kinds, monkeypatch):
    fast = load_protocol(path, kinds).problems
    monkeypatch.setattr(reading, "_LOADER", yaml.SafeLoader)
    slow = load_protocol(path, kinds).problems
    assert [(p.code, p.place) for p in slow] == [(p.code, p.place) for p in fast]


def test_every_problem_of_the_catalogue_is_shown_by_a_fixture():
    shown = {code for path in FIXTURES for _, code in announced(path)}
    assert shown | ELSEWHERE == set(tomllib.loads(PROBLEMS.path.read_text(encoding="utf-8")))


def test_notices_do_not_forbid_evaluation(kinds):
    loaded = load_protocol(FOLDER / "notices.yaml", kinds)
    assert loaded.protocol is not None
    assert {problem.severity for problem in loaded.problems} == {"notice"}
