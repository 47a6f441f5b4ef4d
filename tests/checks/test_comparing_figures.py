"""When a figure agrees: printed digits, certified digits, calls that fail, data in short form."""

from __future__ import annotations

import math

import pytest

from validate.checks.comparing import compare, run
from validate.checks.loading import checks, read_check, set_rows

HEAD = 'id = "x"\ntitle = "x"\ncitation = "x"\nobtained = "x"\nkind = "constructed"\nlicence = "x"\n'


def outcome_of(tmp_path, text: str):
    (tmp_path / "x.toml").write_text(HEAD + text, encoding="utf-8")
    return run(read_check(tmp_path / "x.toml"))


@pytest.mark.parametrize(("attainable", "passes"), ((11.0, False), (9.9, True)))
def test_a_certified_figure_agrees_within_one_digit_of_what_doubles_allow(attainable, passes, tmp_path):
    """2.8 × 0.25 is 0.7; expected is a figure 1e-9 above it: nine digits agree."""
    case = '[[case]]\nname = "a"\ncall = "precision.repeatability_limit"\narguments = {s = 0.25}\n'
    found = outcome_of(tmp_path, case + f'expected = {{value = "0.7000000007"}}\nattainable_digits = {attainable}\n')
    assert found.figures[0].digits_agreed == pytest.approx(9, abs=0.01)
    assert found.passes is passes


def test_a_call_that_raises_is_a_figure_that_is_not_reached_and_says_why(tmp_path):
    case = '[[case]]\nname = "a"\ncall = "precision.repeatability_limit"\narguments = {s = -1.0}\n'
    found = outcome_of(tmp_path, case + 'expected = {value = "0.7"}\n')
    assert not found.passes
    assert found.figures[0].obtained.startswith("no figure: ValueError: ")


def test_a_check_without_a_figure_does_not_pass(tmp_path):
    assert not outcome_of(tmp_path, "").passes


@pytest.mark.parametrize("obtained", (math.nan, math.inf))
def test_what_is_no_number_agrees_in_no_digit(obtained):
    assert compare("1.5", obtained) == (math.inf, 0.0)


def test_data_in_short_form_unfold_to_texts_as_printed():
    short = set_rows({"leading": "1.", "digits": "4 35*2"})
    assert [row["value"] for row in short] == ["1.4", "1.3", "1.5", "1.3", "1.5"]
    grouped = set_rows({"groups": ["1.20 1.4", "1.1"]})
    assert grouped == [{"value": "1.20", "group": "1"}, {"value": "1.4", "group": "1"}, {"value": "1.1", "group": "2"}]
    assert set_rows({"x": "1 2", "y": "3 4"}) == [{"x": "1", "y": "3"}, {"x": "2", "y": "4"}]


def test_columns_of_unequal_length_are_refused():
    with pytest.raises(ValueError):
        set_rows({"x": "1 2", "y": "3"})


def test_no_check_rests_on_the_software_that_it_checks():
    """Where other software computed a figure it is named, and it is not this one."""
    for check in checks():
        assert "method-dossier" not in check.obtained
        if check.kind == "independent":
            assert any(name in check.obtained for name in ("R 4", "mpmath", "numpy", "scipy")), check.id
