"""One form of every number and key, so that equal evaluations have equal hashes (RFC 8785)."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.provenance.canonical import canonical_json


@pytest.mark.parametrize(
    ("number", "text"),
    [
        # RFC 8785 appendix B, as read in the RFC's text: ECMAScript's shortest form.
        (0.0, "0"),
        (-0.0, "0"),
        (5e-324, "5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"),
        (9007199254740992.0, "9007199254740992"),
        (295147905179352830000.0, "295147905179352830000"),
        (9.999999999999997e22, "9.999999999999997e+22"),
        (1e23, "1e+23"),
        (999999999999999700000.0, "999999999999999700000"),
        (333333333.3333332, "333333333.3333332"),
        (0.000001, "0.000001"),
        (1e-7, "1e-7"),
    ],
)
def test_numbers_have_the_form_of_rfc_8785_appendix_b(number, text):
    assert canonical_json(number) == text.encode()


def test_keys_are_sorted_by_utf_16_units_and_text_is_not_escaped_beyond_need():
    assert canonical_json({"µ": 1, "b": 2, "a": "µg/kg\n"}) == '{"a":"µg/kg\\n","b":2,"µ":1}'.encode()


@pytest.mark.parametrize("number", [float("nan"), float("inf"), 2**60])
def test_what_json_cannot_hold_is_refused(number):
    with pytest.raises(ValueError, match="canonical JSON"):
        canonical_json({"value": number})


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_double_survives_the_round_trip(number):
    assert float(json.loads(canonical_json(number))) == number
