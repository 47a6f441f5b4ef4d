"""The bench sheet: everything that is to be done is on it, once, and hostile text stays text."""

import io
import re
from html import unescape

import pikepdf
import pytest

from validate.pipeline.planning import render_plan
from validate.studies.discovery import bench_template, kinds


def page(planned) -> str:
    return render_plan(planned, with_pdf=False).files["bench.html"].decode("utf-8")


def text_of(html: str) -> str:
    return unescape(re.sub(r"<style>.*?</style>|<[^>]*>", " ", html, flags=re.DOTALL)).replace("\u00a0", " ")


def test_every_portion_stands_on_the_sheet_once_with_its_spike(planned):
    made = planned()
    rows = re.findall(r'<th scope="row">(A-\d+)</th><td>([^<]*)</td><td class="num strong">([^<]*)</td>', page(made))
    assert [code for code, _, _ in rows] == [each.code for each in made.plan.studies[0].placed]
    volumes = {label: unescape(volume).replace("\u00a0", " ") for _, label, volume in rows}
    assert volumes["blank sample, spiked to 5 µg/kg"] == "100 µL"


def test_each_day_and_analyst_has_a_page_of_its_own(planned):
    headings = re.findall(r'<section class="day.*?<h2[^>]*>(.*?) <span', page(planned()), flags=re.DOTALL)
    assert headings == [f"Day {day} of 6, analyst {2 - day % 2}" for day in range(1, 7)]


def test_seed_hash_and_what_the_design_can_decide_are_printed(planned):
    made = planned()
    text = text_of(page(made))
    assert "seed 7, as the protocol says" in text
    assert made.plan.design_hash[:16] in text
    assert "The 9 criteria together are to be met with a chance of 80 %" in text
    assert re.search(r"The 98 % wanted at half the bound takes \d+ days; the 6 planned are", text)


def test_rules_on_readiness_become_blanks_of_the_day(planned):
    text = text_of(
        page(
            planned(
                (
                    "studies:\n",
                    "readiness: {check_standard: {between: [9, 11]}, reagent_blank: {at_most: 0.2}}\nstudies:\n",
                )
            )
        )
    )
    assert "check standard (9 to 11 µg/kg)" in text.replace("  ", " ")
    assert "reagent blank (at most 0.2 µg/kg)" in text.replace("  ", " ")


def test_guide_that_asks_for_more_is_held_against_the_plan(planned):
    text = text_of(page(planned(("    accept:", "    minimum_design: [eu-2021-808]\n    accept:"))))
    assert "18 results on 3 occasions" in text and "36 results on 6 occasions" in text
    assert "the method has no limit to compare with short" in re.sub(r"\s+", " ", text)


def test_text_from_the_protocol_is_never_markup(planned):
    bad = "<script>alert(1)</script>"
    html = page(
        planned(("matrix: green coffee", f'matrix: "{bad}"'), ("title: Constructed protocol", f'title: "{bad}"'))
    )
    assert "<script" not in html and "&lt;script&gt;" in html


def test_nothing_is_fetched(planned):
    assert not re.search(r'(?:src|href)="(?!#)|url\((?!data:)', page(planned()))


@pytest.mark.parametrize("kind", sorted(kind for kind, study in kinds().items() if study.plan is not None))
def test_kind_with_a_plan_has_its_part_of_the_sheet(kind):
    assert "parts." in bench_template(kind)


@pytest.mark.slow
def test_a_day_of_twenty_portions_stays_on_one_page(planned):
    """As many pages as with fourteen portions a day; five blanks on readiness above the order."""
    ready = (
        "readiness: {calibration: {not_older_than: 12 h}, check_standard: {between: [9, 11]}, "
        "reagent_blank: {at_most: 1}, shelf_life: {developer: 5 h, solvent: 10 d}}\n"
    )

    def pages(replicates: int) -> int:
        few = ("levels: [1, 5, 40], replicates: 2", f"levels: [1, 5], replicates: {replicates}")
        content = render_plan(planned(few, ("studies:\n", ready + "studies:\n"))).files["bench.pdf"]
        return len(pikepdf.open(io.BytesIO(content)).pages)

    assert pages(10) == pages(7)
