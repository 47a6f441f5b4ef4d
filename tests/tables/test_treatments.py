"""Amendments and exclusions: both values stay, and nothing happens that was not asked for exactly."""

from __future__ import annotations

import pytest

from validate.tables.table import Column

CONTENT = """sample;added;found;day;note
R-01;5;4,9;1;x
R-02;5;9,1;1;x
R-03;5;5,2;2;y
R-04;10;10,1;2;y
"""


def amend(**keys) -> dict:
    return {"where": {"sample": "R-02"}, "column": "found", "old": "9.1", "new": "1.9"} | keys


def codes(reading) -> list[str]:
    return [p.code for p in reading.problems if p.code != "table-columns-ignored"]


@pytest.fixture
def treated(read):
    return lambda *amendments, exclusions=(), content=CONTENT: read(
        content.encode(), amendments=amendments, exclusions=exclusions
    )


def test_amended_value_stands_only_in_the_table_as_reported(treated):
    reading = treated(amend())
    assert reading.recorded.frame.loc[3, "found"] == 9.1
    assert reading.reported.frame.loc[3, "found"] == 1.9
    [amendment] = reading.amendments
    assert (amendment.row, amendment.old, amendment.new, amendment.on) == (3, "9,1", "1.9", "2031-03-09")


def test_excluded_rows_stay_in_the_table_as_recorded(treated):
    reading = treated(exclusions=[{"where": {"day": "2"}}])
    assert reading.recorded.frame.index.tolist() == [2, 3, 4, 5]
    assert reading.reported.frame.index.tolist() == [2, 3]
    assert reading.exclusions[0].rows == "4-5"


def test_lifting_brings_back_the_rows_of_one_exclusion_only(treated):
    reading = treated(
        amend(), exclusions=[{"where": {"day": "1"}}, {"where": {"sample": "R-02"}}, {"where": {"sample": "R-04"}}]
    )
    assert reading.lifting(0).frame.index.tolist() == [2, 4]
    assert reading.reported.frame.index.tolist() == [4]
    assert reading.lifting(2).frame.index.tolist() == [4, 5]
    assert codes(reading) == ["exclusion-of-amended", "exclusion-of-amended", "exclusion-overlaps"]
    with pytest.raises(IndexError):
        reading.lifting(3)


def test_lifted_table_carries_the_amendments(treated):
    reading = treated(amend(), exclusions=[{"where": {"sample": "R-02"}}])
    assert reading.lifting(0).frame.loc[3, "found"] == 1.9


@pytest.mark.parametrize("old", ["9.1", "9,1", "9.10", "0.91e1"])
def test_old_value_is_compared_as_a_number(treated, old):
    assert treated(amend(old=old)).reported is not None


@pytest.mark.parametrize(("where", "rows"), [({"added": "5.0"}, "2-4"), ({"added": "5", "note": "y"}, "4")])
def test_where_compares_levels_as_numbers_and_reads_columns_that_the_study_does_not(treated, where, rows):
    assert treated(exclusions=[{"where": where}]).exclusions[0].rows == rows


def test_treatments_may_use_the_name_of_a_column_in_the_file_or_in_the_study(read):
    content = b"No.,added,result\nR-01,5,4.9\n"
    mapping = {"sample": "No.", "found": "result"}
    for where, column in (({"No.": "R-01"}, "result"), ({"sample": "R-01"}, "found")):
        amendments = [{"where": where, "column": column, "old": "4.9", "new": "4.8"}]
        assert read(content, amendments=amendments, columns=mapping).reported.frame.loc[2, "found"] == 4.8


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"where": {"sample": "R-99"}}, "where-no-row"),
        ({"where": {"day": "1"}}, "amendment-not-unique"),
        ({"where": {"sampel": "R-02"}}, "where-column-unknown"),
        ({"column": "fuond"}, "amendment-column-unknown"),
        ({"old": "9.2"}, "amendment-old-differs"),
        ({"new": "9.10"}, "amendment-changes-nothing"),
        ({"new": "-1"}, "amendment-new-unfit"),
        ({"new": "1-Mar"}, "amendment-new-unfit"),
        ({"column": "added", "old": "5", "new": "n.d."}, "amendment-new-unfit"),
    ],
)
def test_amendment_that_does_not_fit_is_an_error_at_its_place_in_the_protocol(treated, change, code):
    reading = treated(amend(**change))
    assert codes(reading) == [code]
    problem = next(p for p in reading.problems if p.code == code)
    assert str(problem.place) == "p.yaml:100"
    assert problem.mend
    assert reading.reported is None


def test_nearest_row_is_offered(treated):
    reading = treated(amend(where={"sample": "R02"}))
    assert next(p for p in reading.problems if p.code == "where-no-row").mend == '"sample": did you mean "R-02"?'


def test_cell_is_amended_once(treated):
    assert codes(treated(amend(), amend(new="2.0"))) == ["amendment-twice"]


def test_result_may_be_amended_to_one_that_is_no_number(treated):
    reported = treated(amend(new="n.d.")).reported
    assert reported.marks.loc[3, "found"] == "n.d."
    assert reported.frame["found"].isna().tolist() == [False, True, False, False]


def test_amendment_of_an_identifying_column_is_told(treated):
    reading = treated(amend(column="sample", old="R-02", new="R-05"))
    assert codes(reading) == ["amendment-identifies"]
    assert reading.reported.frame.loc[3, "sample"] == "R-05"


def test_amendment_of_a_column_that_this_study_does_not_read_is_a_notice(treated):
    reading = treated(amend(column="note", old="x", new="z"))
    assert codes(reading) == ["amendment-column-unread"]
    assert not reading.amendments


def test_treatments_are_not_blamed_for_rows_that_could_not_be_read(treated):
    content = CONTENT.replace("R-02;5;9,1;1;x", "R-02;5;9,1;1;x;one too many")
    assert codes(treated(amend(), content=content)) == ["table-ragged"]


def test_everything_cannot_be_excluded(treated):
    assert codes(treated(exclusions=[{"where": {"day": "1"}}, {"where": {"day": "2"}}])) == ["exclusion-leaves-nothing"]


def test_unreadable_cell_that_is_amended_is_a_notice_and_its_row_is_not_recorded(treated):
    content = CONTENT.replace("9,1", "1. Sep")
    reading = treated(amend(old="1. Sep"), content=content)
    assert codes(reading) == ["cell-unreadable-treated"]
    assert reading.recorded.frame.index.tolist() == [2, 4, 5]
    assert reading.reported.frame.loc[3, "found"] == 1.9


def test_unreadable_cell_in_an_excluded_row_stays_out_when_the_exclusion_is_lifted(treated):
    content = CONTENT.replace("9,1", "spilt")
    reading = treated(exclusions=[{"where": {"sample": "R-02"}}], content=content)
    assert codes(reading) == ["cell-unreadable-treated"]
    assert reading.lifting(0).frame.index.tolist() == [2, 4, 5]


def test_duplicate_that_is_excluded_is_a_notice(treated):
    content = CONTENT + "R-01;5;4,8;3;entered twice\n"
    assert codes(treated(content=content)) == ["table-duplicate"]
    reading = treated(exclusions=[{"where": {"sample": "R-01", "day": "3"}}], content=content)
    assert codes(reading) == ["table-duplicate-treated"]
    assert reading.reported.frame.index.tolist() == [2, 3, 4, 5]


def test_number_in_another_unit_is_amended_in_the_unit_of_the_file(read):
    asked = (Column(role="found", title="result", type="number", unit="method"),)
    amendments = [{"where": {"found": "0.0091"}, "column": "found", "old": "0.0091", "new": "0.0019"}]
    reading = read(b"found\n0.0091\n", asked=asked, amendments=amendments, units={"found": "mg/kg"})
    assert reading.reported.frame["found"].tolist() == [1.9]
