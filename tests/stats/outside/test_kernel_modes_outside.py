"""Kernel modes against 25-digit values of the exact density."""

from __future__ import annotations

import pytest

from validate.stats import proficiency

DIGITS = 13


@pytest.mark.parametrize("line", range(9))
def test_the_highest_mode_and_its_height_agree_to_thirteen_digits(line, rows, digits_agreed):
    wanted = rows("general/kernel_modes.csv")[line]
    values = [float(row["x"]) for row in rows(f"general/{wanted['data_file']}")]
    highest = proficiency.consensus_modes(
        values, 1.0, bandwidth=float(wanted["bandwidth"]), seed=20310303, resamples=20
    ).modes[0]
    assert digits_agreed(highest.location, wanted["mode"]) >= DIGITS
    assert digits_agreed(highest.height, wanted["height"]) >= DIGITS


def test_as_many_modes_are_found_as_the_exact_density_has(rows):
    """But for one set, whose count includes three that exist only in numbers below 1e-300."""
    for wanted in rows("general/kernel_modes.csv"):
        values = [float(row["x"]) for row in rows(f"general/{wanted['data_file']}")]
        modes = proficiency.consensus_modes(
            values, 1.0, bandwidth=float(wanted["bandwidth"]), seed=20310303, resamples=20
        ).modes
        below_any_double = 3 if wanted["bandwidth"] == "0.258393110920676" else 0
        assert len(modes) == int(wanted["n_local_maxima"]) - below_any_double
