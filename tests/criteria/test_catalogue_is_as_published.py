"""Every number of the shipped sets equals the figure written down from its document."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from validate.criteria.bounds import bound_at
from validate.criteria.catalogue import criteria_set, describe, sets
from validate.criteria.coverage import characteristics
from validate.criteria.designs import designs
from validate.criteria.entries import Entry, bound_of, speaks_of
from validate.studies.contract import Method

DATA = Path(__file__).parent / "data"


def published(name: str) -> dict:
    return yaml.safe_load((DATA / f"{name}.yaml").read_text(encoding="utf-8"))


def entry(set_name: str, finding: str, measurand: str = "", matrix: str = "") -> Entry:
    return next(
        each
        for each in criteria_set(set_name).entry
        if each.finding == finding and speaks_of(each.measurands, measurand) and speaks_of(each.matrices, matrix)
    )


def method(unit_fraction: float = 1e-9, limit: float | None = None) -> Method:
    return Method(
        measurand="", unit="µg/kg", mass_fraction_per_unit=unit_fraction, resolution=None, floor=None, limit=limit,
        scope_from=None, scope_to=None, method_defined=False,
    )  # fmt: skip


def at(one: Entry, level: str, unit: str = "%") -> tuple[float | None, float | None]:
    bound = bound_at(one, level, method(), unit)
    return bound.low, bound.high


AFLATOXIN_LEVELS = {
    "0.01-0.05": ("0.01", "0.05"),
    ">0.05": ("0.0501", "1"),
    "<1.0": ("0.2", "0.999"),
    "1-10": ("1", "10"),
    ">10": ("10.1", "40"),
}


def test_ec_401_2006_recovery_of_aflatoxins_by_level():
    for row in published("D01_EC_401_2006_criteria")["aflatoxins"]["recovery"]:
        levels = AFLATOXIN_LEVELS[row["range_ug_kg"]]
        for analyte in row["analyte"].split(","):
            one = entry("ec-401-2006", "mean_recovery", f"aflatoxin {analyte}")
            assert {at(one, level) for level in levels} == {tuple(row["percent"])}


LEVELS = {
    "<1": "0.9", ">=1": "1", "<20": "19.9", "20-50": "20", ">50": "50.1", ">100-<=500": "500", ">500": "500.1",
    "<=50": "50", "<=500": "500", "15-250": "250", ">250": "251",
}  # fmt: skip
NAMES = {
    "ochratoxin_A": "ochratoxin A",
    "patulin": "patulin",
    "deoxynivalenol": "deoxynivalenol",
    "zearalenone": "zearalenone",
    "fumonisin_B1_B2_each": "fumonisin B2",
    "T2_HT2_each": "HT-2 toxin",
}


@pytest.mark.parametrize("key", NAMES)
def test_ec_401_2006_limits_of_the_other_toxins(key):
    for row in published("D01_EC_401_2006_criteria")[key]:
        level = LEVELS[row["level"]]
        found = {
            "rec": list(at(entry("ec-401-2006", "mean_recovery", NAMES[key]), level)),
            "RSDr": at(entry("ec-401-2006", "rsd_r", NAMES[key]), level)[1],
            "RSDR": at(entry("ec-401-2006", "rsd_reproducibility", NAMES[key]), level)[1],
        }
        assert found == {name: row[name] for name in found}


def test_ec_401_2006_is_repealed_and_says_until_when_it_may_be_used():
    one = criteria_set("ec-401-2006")
    assert (one.in_force_until, one.replaced_by) == ("2024-04-01", "eu-2023-2782")
    assert "until 2029-01-01" in one.note and "before 2024-04-01" in one.note


def test_eu_2023_2782_limits():
    values = published("D03_EU_2023_2782_confirmatory")["criteria"]
    recovery = entry("eu-2023-2782", "mean_recovery")
    assert list(recovery.between) == values["mean_recovery"]
    assert list(recovery.exception.between) == values["exceptional_recovery"]
    assert recovery.exception.when_met == ("rsd_r", "rsd_intermediate")
    assert entry("eu-2023-2782", "rsd_r").at_most == values["RSDr_max"]
    assert entry("eu-2023-2782", "rsd_intermediate").at_most == values["RSDwR_max"]
    assert entry("eu-2023-2782", "rsd_reproducibility").at_most == values["RSDR_should"]


@pytest.mark.parametrize(
    ("measurand", "matrix", "key"),
    [
        ("aflatoxin B1", "cereal food for infants", "aflatoxin_B1_infant"),
        ("aflatoxin G2", "maize", "each_aflatoxin_other"),
        ("ochratoxin A", "liquorice confectionery", "OTA_liquorice_confectionery"),
        ("ochratoxin A", "cocoa powder", "OTA_cocoa_powder"),
    ],
)
def test_eu_2023_2782_quantification_limits_by_food(measurand, matrix, key):
    expected = published("D03_EU_2023_2782_confirmatory")["LOQ"][key]
    assert entry("eu-2023-2782", "loq", measurand, matrix).at_most == expected


def test_a_quantification_limit_is_half_the_limit_of_the_method():
    bound = bound_at(entry("eu-2023-2782", "loq", "ochratoxin A", "green coffee"), None, method(limit=5), "µg/kg")
    assert (bound.low, bound.high) == (None, 2.5)
    assert bound.wording == "at most 0.5 × the limit (at most 2.5 µg/kg)"


def test_eu_2021_808_trueness_by_mass_fraction():
    rows = published("D05_EU_2021_808_trueness_precision")["trueness"]
    for row, levels in zip(rows, (("0.5", "1"), ("1.01", "9.99"), ("10.01", "500")), strict=True):
        low, high = row["percent"]
        for level in levels:
            assert at(entry("eu-2021-808", "mean_recovery"), level) == (100 + low, 100 + high)
            assert at(entry("eu-2021-808", "bias_percent"), level) == (low, high)


def test_eu_2021_808_at_10_both_rows_hold_as_printed_and_the_stricter_is_used():
    bound = bound_at(entry("eu-2021-808", "mean_recovery"), "10", method(), "%")
    assert (bound.low, bound.high) == (80, 120)
    assert "stands in both rows" in bound.notes[0] and "stricter" in bound.notes[0]


def test_eu_2021_808_precision_by_mass_fraction():
    rows = published("D05_EU_2021_808_trueness_precision")["reproducibility_CV"]
    for row, levels in zip(rows, (("1001",), ("121", "1000"), ("10", "120"), ("1", "9.9")), strict=True):
        for level in levels:
            assert at(entry("eu-2021-808", "rsd_intermediate"), level) == (None, row["max"])
            assert at(entry("eu-2021-808", "rsd_r"), level)[1] == pytest.approx(row["max"] * 2 / 3)


def test_eu_2021_808_minimum_design():
    values = published("D05_EU_2021_808_trueness_precision")
    design = next(each for each in designs() if each.id == "eu-2021-808")
    asked = {"per_level": design.results_per_level, "total": design.results, "occasions": design.occasions}
    assert asked == values["replicates"]
    assert {each.name: list(each.times_limit) for each in design.levels} == values["levels"]


FRACTIONS = {"100%": 1, "10%": 0.1, "1%": 0.01, "0.1%": 1e-3, "100 ppm": 1e-4, "10 ppm": 1e-5, "1 ppm": 1e-6,
             "100 ppb": 1e-7, "10 ppb": 1e-8, "1 ppb": 1e-9}  # fmt: skip


@pytest.mark.parametrize(
    ("finding", "file", "key"),
    [
        ("mean_recovery", "C04_AOAC_recovery_by_concentration", "published_percent"),
        ("rsd_r", "C03_AOAC_repeatability_by_concentration", "published"),
    ],
)
def test_aoac_appendix_f_tables(finding, file, key):
    rows = entry("aoac-appendix-f", finding).rows
    found = {row.at_level: bound_of(row) for row in rows}
    expected = {
        FRACTIONS[name]: tuple(value) if isinstance(value, list) else (None, value)
        for name, value in published(file)[key].items()
    }
    assert found == expected


def test_aoac_appendix_f_horrat_ranges():
    facts = published("C05_HorRat_limits")["facts"]
    for finding, key in (("horrat_R_horwitz-aoac", "HorRat_R"), ("horrat_r-over-PRSD_R_horwitz-aoac", "HorRat_r")):
        low, high = entry("aoac-appendix-f", finding).between
        assert f"{low}-{high}" in facts[key]


def test_a_level_between_two_printed_points_takes_the_stricter():
    bound = bound_at(entry("aoac-appendix-f", "mean_recovery"), "50", method(), "%")
    assert (bound.low, bound.high) == (80, 110)
    assert "lies between the rows 10 ppb and 100 ppb" in bound.notes[0]


def test_edges_are_exact_in_whatever_unit_the_method_writes():
    """0.01 mg/kg is 10 µg/kg, also in doubles."""
    one = entry("eu-2021-808", "rsd_intermediate")
    bound = bound_at(one, "0.01", method(unit_fraction=1e-6), "%")
    assert bound.high == 25


def test_horwitz_factors_by_function():
    """Predicted RSD_R at 1 µg/kg: 45.25 % (Horwitz), 44.77 % (AOAC form), 22 % (Thompson)."""
    for name, predicted in (("horwitz", 45.2548), ("horwitz-aoac", 44.7744), ("thompson", 22.0)):
        assert at(entry(name, "rsd_reproducibility"), "1")[1] == pytest.approx(2 * predicted, rel=1e-6)
        assert at(entry(name, "rsd_r"), "1")[1] == pytest.approx(0.66 * 2 * predicted, rel=1e-6)


def test_what_is_from_memory_carries_no_document_name():
    for one in sets():
        if one.obtained.startswith("from memory"):
            assert one.source == "common practice, no source"


def test_every_set_says_how_it_was_obtained_and_where_each_bound_stands():
    for one in sets():
        assert one.obtained and one.source
        assert all(each.clause for each in one.entry)


def test_every_bounded_figure_is_a_name_that_the_characteristics_know():
    """HorRat names carry form and model and are the studies' own."""
    known = {name for each in characteristics().values() for name in each.findings}
    bounded = {each.finding for one in sets() for each in one.entry}
    assert {name for name in bounded - known if not name.startswith("horrat_")} == set()


def test_the_listing_names_every_set_and_design():
    text = describe()
    assert all(one.id in text for one in (*sets(), *designs()))
    assert "boundary rule: stricter row" in text
