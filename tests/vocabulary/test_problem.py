"""Problems: text from files cannot act on a terminal, and a template cannot be filled twice."""

import tomllib
from pathlib import Path

import pytest

from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, NOTICE, TOLD, InputRefused, Problem, ProblemCatalogue, printable

CATALOGUES = sorted(Path(__file__).parents[2].glob("validate/**/problems.toml"))


def test_printable_text_stays_as_it_is():
    assert printable("µg/kg, 5 °C – “Größe” 測定 <b>&amp;") == "µg/kg, 5 °C – “Größe” 測定 <b>&amp;"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\x1b[31mred", r"a\x1b[31mred"),
        ("a\nb\rc\td", r"a\nb\rc\td"),
        ("a\x00b\x7f", r"a\x00b\x7f"),
        ("user\u202etxt.exe", r"user\u202etxt.exe"),
        ("no\u200bbreak\ufeff", r"no\u200bbreak\ufeff"),
        ("lone \ud800", r"lone \ud800"),
        ("line\u2028end", r"line\u2028end"),
    ],
)
def test_characters_that_act_are_shown_as_escapes(text, shown):
    assert printable(text) == shown


def test_long_text_is_shortened():
    assert printable("x" * 201) == "x" * 199 + "…"
    assert printable("x" * 200) == "x" * 200


@pytest.fixture
def catalogue(tmp_path):
    (tmp_path / "problems.toml").write_text(
        '[odd]\ntitle = "Odd"\nmessage = \'"{value}" is odd\'\nmend = "write {hint}"\n'
        '[told]\ntitle = "Told"\nmessage = "so it is"\nseverity = "notice"\n',
        encoding="utf-8",
    )
    return ProblemCatalogue(str(tmp_path / "room.py"))


def test_a_problem_names_place_value_and_how_to_mend(catalogue):
    problem = catalogue.problem("odd", Place("a.yaml", 3, 7), value=5, hint="6")
    assert str(problem) == 'a.yaml:3:7  "5" is odd\n    write 6'
    assert problem.severity == ERROR


def test_values_from_files_are_made_printable_and_never_read_as_a_template(catalogue):
    problem = catalogue.problem("odd", Place("a\x1b.yaml"), value="{hint}\x07", hint="x")
    assert problem.message == r'"{hint}\x07" is odd'
    assert str(problem).startswith(r"a\x1b.yaml  ")


def test_a_notice_is_told_apart_and_may_have_nothing_to_mend(catalogue):
    problem = catalogue.problem("told", Place("a.yaml"))
    assert (problem.severity, str(problem)) == (NOTICE, "a.yaml  so it is")


def test_refused_input_lists_every_problem():
    problems = [Problem("a", Place("x", 1), "first", ""), Problem("b", Place("x", 2, 4), "second", "mend it")]
    assert str(InputRefused(iter(problems))) == "x:1  first\nx:2:4  second\n    mend it"


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.parent.name)
def test_every_entry_of_a_catalogue_has_a_title_a_message_and_every_error_says_how_to_mend(path):
    for code, entry in tomllib.loads(path.read_text(encoding="utf-8")).items():
        assert set(entry) <= {"title", "message", "mend", "severity"}, code
        assert entry["title"] and entry["message"], code
        assert entry.get("severity", ERROR) in (ERROR, NOTICE, TOLD), code
        assert "mend" in entry or entry.get("severity") == NOTICE, code


def test_places_print_as_file_line_column():
    assert [str(Place("f", *rest)) for rest in ((), (2,), (2, 5))] == ["f", "f:2", "f:2:5"]
