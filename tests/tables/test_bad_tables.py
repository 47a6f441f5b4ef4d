"""Every fault of a table is told at its row; the expected codes stand on the offending row or beside the file."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import pytest

from validate.vocabulary.problem import ERROR

BAD = Path(__file__).with_name("bad")
WITH_CODES_IN_ROWS = ("cells.csv", "rows.csv")
WITH_CODES_BESIDE = sorted(path.name for path in BAD.glob("*.csv") if path.with_suffix(".toml").exists())


def test_every_fixture_says_what_it_expects():
    assert {path.name for path in BAD.glob("*.csv")} == {*WITH_CODES_IN_ROWS, *WITH_CODES_BESIDE}


@pytest.mark.parametrize("name", WITH_CODES_IN_ROWS)
def test_codes_on_the_offending_rows_are_all_told_and_no_others(name, read):
    with (BAD / name).open(encoding="utf-8", newline="") as stream:
        rows = list(enumerate(csv.reader(stream), start=1))
    expected = sorted((row, code) for row, cells in rows[1:] for code in cells[-1].split())
    reading = read((BAD / name).read_bytes())
    told = sorted((p.place.line, p.code) for p in reading.problems if p.code != "table-columns-ignored")
    assert told == expected
    assert reading.recorded is None and reading.reported is None


@pytest.mark.parametrize("name", WITH_CODES_BESIDE)
def test_codes_beside_the_file_are_all_told_and_no_others(name, read):
    beside = tomllib.loads((BAD / name).with_suffix(".toml").read_text(encoding="utf-8"))
    reading = read((BAD / name).read_bytes(), **beside.get("source", {}))
    assert sorted(_said(problem) for problem in reading.problems) == sorted(beside["expected"])
    assert any(p.severity == ERROR for p in reading.problems) == (reading.reported is None)


def _said(problem) -> str:
    place, code = problem.place, problem.code
    if place.file == "p.yaml":
        return f"p.yaml:{place.line} {code}"
    if place.line is None:
        return code
    return f"{place.line} {code}" if place.column is None else f"{place.line}:{place.column} {code}"


def test_message_has_file_row_column_value_and_the_way_out(read):
    reading = read(b'sample,added,found\nR-01,5,"0,31"\n')
    assert str(reading.problems[0]) == (
        'protocols/invented/r.csv:2:3  "0,31" in column "found" is not a number\n'
        '    decimal comma? write `decimal: ","` under this study\'s data, or correct the cell'
    )


def test_nearest_header_is_offered_for_a_missing_column(read):
    [missing, _] = read(b"sample,added,Found\nA,5,4.9\n").problems
    assert missing.code == "table-column-missing"
    assert 'did you mean "Found"?' in missing.mend


def test_faults_beyond_the_first_of_a_kind_are_counted_by_kind_and_column(read):
    rows = b"".join(b"%d,five,n/v\n" % i for i in range(1_250))
    problems = read(b"sample,added,found\n" + rows).problems
    counted = [p for p in problems if p.code == "more-of-the-same"]
    assert [p.message for p in counted] == [
        'and 1,240 more in column "added": Not a number; the first of them here',
        'and 1,240 more in column "found": Not a number; the first of them here',
    ]
    assert counted[0].place.line == 12
    assert len(problems) == 22


def test_column_that_is_wrong_throughout_is_given_up_with_an_error(read):
    rows = b"".join(b"%d,5,n/v %d\n" % (i, i) for i in range(10_500))
    problems = read(b"sample,added,found\n" + rows).problems
    assert [(p.code, p.place.line, p.severity) for p in problems][-2:] == [
        ("column-given-up", 10_001, ERROR),
        ("more-of-the-same", 12, ERROR),
    ]


def test_one_column_cannot_serve_two_purposes(read):
    problems = read(b"sample,added\nA,5\n", columns={"found": "added"}).problems
    assert [(p.code, str(p.place)) for p in problems] == [("columns-twice", "p.yaml:7:2")]


def test_control_and_direction_characters_of_a_cell_do_not_reach_the_terminal(read):
    text = str(read("sample,added,found\nA,5,\x1b[31m\u202e9\n".encode()).problems[0])
    assert "\x1b" not in text and "\u202e" not in text
    assert "\\x1b[31m" in text


def test_spreadsheet_of_another_kind_is_told_to_be_saved_as_one_that_is_read(tmp_path, read):
    from validate.protocol.settings import DataSource
    from validate.tables.reading import read_table
    from validate.vocabulary.place import Place

    reading = read_table(
        tmp_path,
        DataSource(file="r.ods"),
        (),
        method_unit="µg/kg",
        shown_folder=".",
        source_place=lambda *keys: Place("p.yaml", 3, 5),
    )
    [problem] = reading.problems
    assert str(problem).startswith('p.yaml:3:5  "r.ods" is a spreadsheet of a kind that is not read')
