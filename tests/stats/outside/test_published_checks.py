"""The published examples that ship with the package, and the rules that their files obey."""

from __future__ import annotations

import re

import pytest

from validate.checks.comparing import compare, run
from validate.checks.loading import FOLDER as CHECKS_FOLDER
from validate.checks.loading import checks, read_check

DEVIATIONS_LISTED = {
    "aoac-detection-sample-sizes": 1,
    "eurl-lod": 1,
    "fluorescein": 1,
    "iso-5725-2-cochran": 2,
    "iso-5725-2-grubbs": 4,
    "peak-flow-agreement": 4,
}
"""Printed figures of a source that are more than half a unit of their last digit off. May only go down."""

READ = re.compile("read in|from memory")
HOW_OBTAINED = {
    "certified": re.compile("from the public repository|shipped in"),
    "published": READ,
    "independent": re.compile("computed with|recomputed|put in numbers with"),
    "by hand": re.compile("by hand"),
    "constructed": READ,
    "from memory": READ,
}
KINDS = set(HOW_OBTAINED)
ALL = {check.id: check for check in checks()}


@pytest.mark.parametrize("name", ALL)
def test_every_printed_figure_is_reached_to_one_unit_of_its_last_digit(name):
    wrong = [f for f in run(ALL[name]).figures if not f.passes]
    assert wrong == []


@pytest.mark.parametrize("name", ALL)
def test_deviations_listed_are_exactly_those_beyond_half_a_unit(name):
    found = {(f.case, f.name) for f in run(ALL[name]).figures if f.deviates}
    listed = [(d.case, d.figure) for d in ALL[name].deviations]
    assert sorted(listed) == sorted(found)


def test_the_list_of_deviations_only_shrinks():
    assert {name: len(check.deviations) for name, check in ALL.items() if check.deviations} == DEVIATIONS_LISTED


@pytest.mark.parametrize("name", ALL)
def test_a_check_names_its_source_and_how_it_was_obtained(name):
    check = ALL[name]
    assert check.kind in KINDS
    assert (check.kind == "from memory") <= ("from memory" in check.obtained)
    assert HOW_OBTAINED[check.kind].search(check.obtained)
    if check.kind == "independent":
        assert re.search(r"\d+\.\d", check.obtained) or "from memory" in check.obtained, "which version"
    elif check.kind == "certified":
        assert all(case.attainable_digits for case in check.cases)
    else:
        place = r"(table|annex|appendix|clauses?|ch\.|p\.) ?\S|abstract"
        assert re.search(place, check.citation, re.IGNORECASE), "which place"
        assert re.search(r"\b(19|20)\d\d", check.citation), "no edition"
    assert check.licence and check.title
    assert check.cases
    assert all(deviation.cause for deviation in check.deviations)


def test_identifiers_match_their_files_and_data_files_belong_to_a_check():
    files = {path.stem: read_check(path) for path in CHECKS_FOLDER.glob("*.toml")}
    assert {stem.replace("_", "-"): check.id for stem, check in files.items()} == {c.id: c.id for c in files.values()}
    assert {check.data for check in files.values()} - {None} == {path.name for path in CHECKS_FOLDER.glob("*.csv")}


@pytest.mark.parametrize(
    ("printed", "obtained", "units"),
    (("0.690", 0.6904, 0.4), ("0.690", 0.6912, 1.2), ("16", 15.5, 0.5), ("2.2e-9", 2.25e-9, 0.5), ("0", 0.25, 0.25)),
)
def test_a_difference_is_counted_in_units_of_the_last_printed_digit(printed, obtained, units):
    assert compare(printed, obtained)[0] == pytest.approx(units, abs=1e-9)


def test_digits_that_agree_are_counted_relative_to_the_printed_figure():
    assert compare("200", 202.0)[1] == pytest.approx(2.0)
    assert compare("1.5", 1.5)[1] == 15


def test_a_figure_beyond_half_a_unit_fails_a_check_until_its_cause_is_listed(tmp_path):
    text = """
id = "x"\ntitle = "x"\ncitation = "x"\nobtained = "from memory"\nkind = "constructed"\nlicence = "x"
[[case]]\nname = "a"\ncall = "precision.repeatability_limit"\narguments = {s = 0.2525}\nexpected = {value = "0.70"}
"""
    path = tmp_path / "x.toml"
    path.write_text(text, encoding="utf-8")
    assert not run(read_check(path)).passes
    path.write_text(text + '[[deviation]]\ncase = "a"\nfigure = "value"\ncause = "rounded early"\n', encoding="utf-8")
    assert run(read_check(path)).passes
