"""What a well-written table means, in each of the ways in which laboratories write one."""

from __future__ import annotations

import math

import pytest

from validate.tables.table import Column
from validate.vocabulary.problem import ERROR

PLAIN = "sample,added,found\nA,5,4.9\nB,5,5.25\n"


def found(reading) -> list[float]:
    assert not [str(p) for p in reading.problems if p.severity == ERROR]
    return reading.reported.frame["found"].tolist()


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_separators_and_line_ends_are_detected(read, delimiter, ending):
    text = PLAIN.replace(",", delimiter).replace("\n", ending)
    assert found(read(text.encode())) == [4.9, 5.25]


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_comma_is_detected_where_commas_do_not_separate(read, delimiter):
    text = PLAIN.replace(",", delimiter).replace(".", ",")
    reading = read(text.encode())
    assert found(reading) == [4.9, 5.25]
    assert "decimal comma (detected)" in reading.read_as


def test_quoted_decimal_comma_in_a_comma_separated_file_must_be_declared(read):
    text = b'sample,added,found\nA,5,"4,9"\n'
    assert read(text).reported is None
    reading = read(text, decimal=",")
    assert found(reading) == [4.9]
    assert reading.read_as == "Read as UTF-8 text, columns separated by comma (detected), decimal comma (declared)."


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings_give_the_same_table(read, codec):
    text = "sample;added;found;day\nProbe µ;5;4,9;Tag ä\n"
    frame = read(text.encode(codec)).reported.frame
    assert frame.loc[2].tolist() == ["Probe µ", "5", 4.9, "Tag ä"]


def test_windows_1252_is_a_notice_unless_declared(read):
    content = "sample;added;found\nµ;5;4,9\n".encode("cp1252")
    assert [p.code for p in read(content).problems] == ["table-encoding-assumed"]
    assert not read(content, encoding="cp1252").problems


def test_results_that_are_no_number_are_kept_apart_from_zero_and_from_each_other(read):
    cells = ["<2", "< 2.5", ">50", "<LOQ", "n.d.", "ND", "NA", "n/a", "", "0"]
    text = "sample,added,found\n" + "".join(f"{i},5,{cell}\n" for i, cell in enumerate(cells))
    table = read(text.encode()).reported
    assert table.marks["found"].tolist() == ["<2", "<2.5", ">50", "<LOQ", "n.d.", "n.d.", "NA", "NA", "", ""]
    values = table.frame["found"].tolist()
    assert all(map(math.isnan, values[:9]))
    assert values[9] == 0


def test_declared_unit_is_converted_and_rounded_once(read):
    table = read(b"sample,added,found\nA,0.005,0.0011\nB,0.0050,<0.002\n", units={"found": "mg/kg", "added": "mg/kg"})
    assert not table.problems
    assert table.reported.frame["found"].tolist()[0] == 1.1
    assert table.reported.frame["added"].tolist() == ["5", "5"]
    assert table.reported.marks["found"].tolist() == ["", "<2"]


def test_levels_are_canonical_decimal_text(read):
    text = "sample;added;found\n" + "".join(f"{i};{a};1,5\n" for i, a in enumerate(["5", "5,0", "05", "0,50", "1e1"]))
    assert read(text.encode()).reported.frame["added"].tolist() == ["5", "5", "5", "0.5", "10"]


def test_rows_of_the_frame_are_rows_of_the_file(read):
    reading = read(b'sample,added,found\nA,5,1\n\n"B\nb",5,2\nC,5,3\n')
    assert reading.reported.frame.index.tolist() == [2, 4, 5]
    assert reading.cell(4, "found").line == 4
    assert str(reading.cell(5, "found")) == "protocols/invented/r.csv:5:3"


def test_columns_are_mapped_by_name(read):
    reading = read(b"No.,spiked,result\nA,5,4.9\n", columns={"sample": "No.", "added": "spiked", "found": "result"})
    assert list(reading.reported.frame.columns) == ["sample", "added", "found"]


def test_columns_that_nobody_asked_for_are_one_notice(read):
    header = "sample,added,found," + ",".join(f"x{i}" for i in range(30))
    [notice] = read(f"{header}\nA,5,4.9{',1' * 30}\n".encode()).problems
    assert notice.severity == "notice"
    assert notice.message.endswith('"x6", "x7" and 22 more')


def test_optional_column_without_a_cell_counts_as_absent(read):
    reading = read(b"sample,added,found,day,mass\nA,5,4.9,,\nB,5,5,,\n")
    assert [p.code for p in reading.problems] == ["table-column-empty"] * 2
    assert list(reading.reported.frame.columns) == ["sample", "added", "found"]


def test_spaces_around_cells_and_empty_cells_beyond_the_header_do_no_harm(read):
    assert found(read(b"sample , added, found\n A , 5 , 4.9 ,,\n")) == [4.9]


def test_equal_rows_are_a_notice_where_no_column_identifies(read):
    asked = (Column(role="found", title="result", type="number", unit="method"),)
    reading = read(b"found\n1\n1\n2\n1\n", asked=asked)
    [notice] = reading.problems
    assert (notice.code, notice.severity) == ("table-identical-rows", "notice")
    assert notice.message == "the same in every cell as an earlier row (2 in all): 3, 5"


def test_rows_without_their_own_number_are_not_duplicates_of_each_other(read):
    asked = (
        Column(role="sample", title="number", type="label", required=False, identifies=True),
        Column(role="found", title="result", type="number", unit="method"),
    )
    assert not read(b"sample,found\n,1\n,2\nA,3\n", asked=asked).problems


def test_reading_the_same_bytes_twice_gives_the_same_answer(read):
    content = PLAIN.encode()
    first, second = read(content), read(content)
    assert first.reported.frame.equals(second.reported.frame)
    assert first.problems == second.problems
