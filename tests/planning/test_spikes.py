"""Spike volumes by hand, the pipettes that deliver them, and what to do where none can."""

import pytest

from validate.planning.pipetting import COMMON, Pipette, amount_to_add, dilution, dose, microlitres, solutions
from validate.planning.portions import portion_steps
from validate.protocol.model import Material, Portion
from validate.vocabulary.problem import ERROR, InputRefused
from validate.vocabulary.quantity import parse_quantity


def material(value: str, kind: str = "solution") -> Material:
    return Material.model_validate({"kind": kind, "value": value})


@pytest.mark.parametrize(
    ("content", "unit", "portion", "nanograms"),
    [
        (5, "µg/kg", "20 g", 100),
        (0.5, "mg/kg", "10 g", 5_000),
        (2, "µg/L", "50 mL", 100),
        (1, "g/kg", "0.5 kg", 5e8),
    ],
)
def test_mass_to_add_is_content_times_portion(content, unit, portion, nanograms):
    assert amount_to_add(content, unit, parse_quantity(portion)) == pytest.approx(nanograms, rel=1e-12)


@pytest.mark.parametrize(("unit", "portion"), [("%", "20 g"), ("µg/kg", "20 mL"), ("µg/L", "5 g")])
def test_units_that_give_no_mass_give_none(unit, portion):
    assert amount_to_add(5, unit, parse_quantity(portion)) is None


def test_hundred_nanograms_of_a_thousand_per_millilitre_are_a_hundred_microlitres():
    made = dose(100, solutions({"standard": material("1000 ng/mL")}, ()), COMMON)
    assert made.size == pytest.approx(100)
    assert microlitres(made.size) == "100\u00a0µL"
    assert made.pipette == Pipette(20, 200)


def test_solution_of_a_mass_per_mass_is_weighed_and_needs_no_pipette():
    made = dose(100, solutions({"standard": material("1 µg/g")}, ()), COMMON)
    assert made.deliverable and made.pipette is None
    assert made.words == "100\u00a0mg"


def test_of_two_solutions_the_one_that_a_pipette_delivers_is_taken_with_least_solvent():
    both = solutions({"stock": material("10 µg/mL"), "intermediate": material("1 µg/mL")}, ())
    assert dose(100, both, COMMON).solution.name == "intermediate"
    assert dose(1000, both, COMMON).solution.name == "stock"


def test_only_materials_of_kind_solution_are_spiked_unless_named():
    materials = {"standard": material("1 µg/mL"), "control": material("20 µg/kg", kind="certified material")}
    assert [each.name for each in solutions(materials, ())] == ["standard"]
    assert [each.name for each in solutions(materials, ("control",))] == ["control"]


@pytest.mark.parametrize(("volume", "factor"), [(2, 10), (15, 2), (0.3, 100), (0.02, 1000)])
def test_intermediate_dilution_is_the_smallest_round_one_that_can_be_delivered(volume, factor):
    assert dilution(volume, COMMON) == factor


def test_volume_below_the_smallest_pipette_is_refused_at_its_level_with_the_dilution(planned):
    with pytest.raises(InputRefused) as refused:
        planned(("levels: [1, 5, 40]", "levels: [0.1, 5, 40]"))
    (problem,) = refused.value.problems
    assert problem.code == "spike-below-pipette"
    assert (problem.place.line, problem.place.column) == (21, 23)
    assert problem.message == "level 0.1 µg/kg needs 2 µL of standard; the smallest pipette delivers 20 µL"
    assert "1 in 10 to 100 ng/mL" in problem.mend and "then 20 µL are delivered" in problem.mend


def test_the_dilution_that_the_message_asks_for_mends_it(planned):
    diluted = "standard: {kind: solution, value: 1000 ng/mL}\n  intermediate: {kind: solution, value: 100 ng/mL}"
    plan = planned(
        ("levels: [1, 5, 40]", "levels: [0.1, 5, 40]"), ("standard: {kind: solution, value: 1000 ng/mL}", diluted)
    ).plan
    taken = [(line.level, line.dose.solution.name, round(line.dose.size)) for line in plan.studies[0].spikes]
    assert taken == [("0.1", "intermediate", 20), ("5", "standard", 100), ("40", "standard", 800)]


@pytest.mark.parametrize(
    ("replaced", "code"),
    [
        ((("levels: [1, 5, 40]", "levels: [1, 5, 60]"),), "spike-above-pipette"),
        ((("to: 200 µL", "to: 50 µL"), ("levels: [1, 5, 40]", "levels: [1, 4, 40]")), "spike-between-pipettes"),
        ((("contamination:", "spike_with: stock\n    contamination:"),), "spike-unknown-material"),
        ((("value: 1000 ng/mL}", "value: 1000 ng/mL, expires: 2031-03-02}"),), "spike-expired"),
    ],
)
def test_spikes_that_cannot_be_made_are_refused(planned, replaced, code):
    with pytest.raises(InputRefused) as refused:
        planned(*replaced)
    assert [problem.code for problem in refused.value.problems if problem.severity == ERROR] == [code]


@pytest.mark.parametrize(
    ("replaced", "code"),
    [
        ((("  portion: {weigh: 20 g}\n", ""),), "spike-no-portion"),
        ((("kind: solution,", "kind: sample,"),), "spike-no-solution"),
        ((("weigh: 20 g", "weigh: 20 mL"),), "spike-unit"),
    ],
)
def test_volumes_that_cannot_be_computed_are_told_and_left_open(planned, replaced, code):
    made = planned(*replaced)
    assert [problem.code for problem in made.plan.problems] == [code]
    assert [line.dose for line in made.plan.studies[0].spikes] == [None] * 3


def test_without_pipettes_in_the_protocol_the_common_ones_are_supposed_and_said_so(planned):
    with pytest.raises(InputRefused) as refused:
        planned(
            (", pipettes: [{from: 20 µL, to: 200 µL}, {from: 100 µL, to: 1 mL}]", ""),
            ("levels: [1, 5, 40]", "levels: [0.1, 5, 40]"),
        )
    assert "supposed: the protocol names no pipettes" in refused.value.problems[0].message


def test_grams_of_sample_are_followed_through_extraction_dilution_and_loading():
    """20 g in 200 mL, 15 mL + 30 mL, 9 mL on the column: 0.3 g of sample, in 2 mL of eluate 0.15 g in 1 mL."""
    portion = Portion.model_validate(
        {
            "weigh": "20 g",
            "extract_in": "200 mL",
            "dilute": {"take": "15 mL", "add": "30 mL"},
            "load": "9 mL",
            "elute_in": "2 mL",
        }
    )
    assert [step.replace("\u00a0", " ") for step in portion_steps(portion)] == [
        "weigh 20 g",
        "extract in 200 mL: 0.1 g of sample in 1 mL",
        "take 15 mL, add 30 mL: 0.03333 g of sample in 1 mL",
        "load 9 mL: 0.3 g of sample",
        "elute in 2 mL: 0.15 g of sample in 1 mL",
    ]
