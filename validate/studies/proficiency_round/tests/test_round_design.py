"""Before the round: what `check` says of a protocol without results."""

from __future__ import annotations

import numpy as np
import pytest

from validate.cli import main
from validate.stats.proficiency_modes import consensus_modes
from validate.studies.proficiency_round.designing import FEWEST, MODE_FACTOR, laboratories_needed
from validate.studies.proficiency_round.tests.round_bench import problems, written

SCALE = "    sigma_pt: {by: prescribed, percent: 10, source: test}\n"


def told(folder, settings: str, unit: str = "µg/kg") -> dict[str, str]:
    """Problems of the protocol without its table."""
    place = written(folder, "x", settings, unit=unit) / "protocol.yaml"
    place.write_text(place.read_text("utf-8").replace("    data: {file: results.csv}\n", ""), "utf-8")
    return problems(folder)


def consensus(by: str, laboratories: int | None, fallbacks: str = "") -> str:
    count = f"    laboratories: {laboratories}\n" if laboratories else ""
    return f"{count}    samples: [A]\n    assigned_value: {{by: '{by}'{fallbacks}}}\n{SCALE}"


@pytest.mark.parametrize("by", ["algorithm A", "Q method", "median, MADe", "kernel mode"])
def test_the_number_of_laboratories_is_the_smallest_that_reaches_the_goal(by):
    p, factor = laboratories_needed(by), MODE_FACTOR if by == "kernel mode" else 1.25
    assert factor / p**0.5 <= 0.3 < factor / (p - 1) ** 0.5
    assert p > FEWEST[by]


@pytest.mark.slow
def test_the_mode_of_many_results_scatters_as_the_law_for_its_bandwidth_says():
    """1.485·σ/√p; 600 rounds of 200 laboratories give the SD of the mode to ±3 %."""
    rng = np.random.default_rng(20310303)
    x = rng.standard_normal((600, 200))
    modes = [consensus_modes(row, 1.0, seed=1, resamples=2).modes[0].location for row in x]
    assert np.std(modes, ddof=1) * 200**0.5 == pytest.approx(MODE_FACTOR, rel=0.09)


def test_enough_laboratories_are_told_with_both_spreads_and_the_fallbacks(tmp_path):
    said = told(tmp_path, consensus("algorithm A", 25, ", fallbacks: ['median, MADe', kernel mode]"))
    assert (
        "is about 0.25 σ_pt" in said["round-design-enough"] and "0.38 σ_pt if 1.5 times" in said["round-design-enough"]
    )
    assert "needs 18 or 40 laboratories" in said["round-design-enough"]
    assert "median, MADe (from 12 results on, up to 40 %" in said["round-design-enough"]
    assert "then kernel mode (from 5 results on, less than 5 %" in said["round-design-enough"]


@pytest.mark.parametrize(
    ("by", "laboratories", "code", "words"),
    [
        ("algorithm A", None, "round-design", "needs 18 laboratories or more"),
        ("algorithm A", 17, "round-design-short", "about 0.30 σ_pt"),
        ("kernel mode", 24, "round-design-short", "0.3 needs 25"),
        ("median, nIQR", 11, "round-design-none", "11 laboratories give no x_pt by median, nIQR, which needs 12"),
        ("algorithm A", 4, "round-design-none", "which needs 5"),
    ],
)
def test_what_is_short_is_a_notice_with_the_number_that_is_needed(tmp_path, by, laboratories, code, words):
    said = told(tmp_path, consensus(by, laboratories))
    assert words in said[code] and "fallbacks: none" in said[code]


@pytest.mark.parametrize(
    ("assigned", "code", "ratio"),
    [
        ("{by: formulation, value: 100, u: 1, source: test}", "round-design-independent", "0.10"),
        ("{by: certified value, value: 100, u: 4, source: test}", "round-design-uncertain", "0.40"),
        ("{by: expert laboratories, results: [98, 100, 102], source: test}", "round-design-independent", "0.12"),
    ],
)
def test_an_independent_value_does_not_depend_on_how_many_take_part(tmp_path, assigned, code, ratio):
    said = told(tmp_path, f"    laboratories: 6\n    samples: [A]\n    assigned_value: {assigned}\n{SCALE}")
    assert f"is {ratio} σ_pt whatever the number of laboratories" in said[code]


def test_targets_that_are_set_otherwise_are_told_apart(tmp_path):
    settings = consensus("algorithm A", 30).replace("[A]", "[A, B, C]")
    settings += "    targets:\n      - {sample: C, assigned_value: {by: formulation, value: 100, u: 1, source: test}}\n"
    said = told(tmp_path, settings)
    assert "A, B: with 30 laboratories" in said["round-design-enough"]
    assert "C: u(x_pt) by formulation is 0.10" in said["round-design-independent"]


def test_eleven_laboratories_cannot_give_their_own_sigma(tmp_path):
    settings = consensus("algorithm A", 11).replace(SCALE, "    sigma_pt: {by: this round}\n")
    assert "12 results with a number are needed" in told(tmp_path, settings)["round-design-no-sigma"]


def test_a_design_that_is_enough_is_no_complaint(tmp_path, capsys):
    """It goes to the standard output, beside the sentence that the protocol can be evaluated."""
    told(tmp_path, consensus("algorithm A", 30))
    assert main(["check", str(tmp_path)]) == 0
    said = capsys.readouterr()
    assert said.err == "" and "goal of 0.3 σ_pt needs 18" in said.out


def test_nothing_is_said_of_the_design_once_results_are_there(tmp_path):
    table = "laboratory,sample,result\n" + "".join(f"L{i},A,{100 + i}\n" for i in range(6))
    assert not [code for code in problems(written(tmp_path, table, consensus("algorithm A", 6))) if "design" in code]
