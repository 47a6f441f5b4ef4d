"""From `use`, `accept` and `claims` to numbers at every declared level."""

from __future__ import annotations

import pytest

from validate.criteria.entries import CriteriaSet, Entry
from validate.criteria.resolving import comparisons
from validate.vocabulary.verdict import JudgeBy

OWN = "{{at_most: {}, judge_by: {}, source: own, reason: agreed}}"


def own(number: float, judge_by: str = "interval") -> str:
    return OWN.format(number, judge_by)


def test_a_set_in_use_gives_bound_source_and_basis_at_every_declared_level(ask):
    asked = ask("{mean_recovery: {per: level}}", levels="[1, 5, 40]")
    ids = ["trial/mean_recovery@1", "trial/mean_recovery@5", "trial/mean_recovery@40"]
    assert [criterion.id for criterion in asked.criteria] == ids
    first = asked.criteria[0]
    assert (first.low, first.high, first.unit, first.wording) == (70, 120, "%", "70 % to 120 %")
    assert first.judge_by is JudgeBy.ESTIMATE
    assert (first.source, first.clause) == ("Commission Implementing Regulation (EU) 2023/2782", "Annex II 4.3")
    assert asked.errors == []


def test_minimum_numbers_come_from_the_kind_when_the_source_gives_none(ask):
    (criterion,) = ask("{rsd_intermediate: {}}").criteria
    assert (criterion.minimum_n, criterion.minimum_groups) == (5, 5)


def test_a_protocol_may_ask_for_more_results_than_the_kind_but_not_for_fewer(ask):
    assert ask("{rsd_r: {minimum_n: 8}}").criteria[0].minimum_n == 8
    assert ask("{rsd_r: {minimum_n: 2}}").criteria[0].minimum_n == 5


def test_a_bound_may_be_restricted_to_some_levels(ask):
    asked = ask("{rsd_r: {levels: [40, 5.0]}}", levels="[1, 5, 40]")
    assert [criterion.level for criterion in asked.criteria] == ["5", "40"]


def test_k_counts_judged_level_and_criterion_pairs_of_one_study(ask):
    asked = ask("{rsd_r: {}, mean_recovery: {levels: [5]}}", levels="[1, 5, 40]")
    assert comparisons(asked.criteria, "trial") == 4
    assert comparisons(asked.criteria, "another") == 1


def test_claims_count_among_the_comparisons(ask):
    asked = ask("{rsd_r: {}}", claims="claims: {mean_recovery: {at_least: 80, source: sheet}}", levels="[1, 5]")
    assert comparisons(asked.criteria, "trial") == 4


def test_a_study_without_levels_is_judged_as_a_whole(ask):
    (criterion,) = ask("{rsd_r: {per: study}}", levels="[]").criteria
    assert criterion.level is None


def test_two_sets_in_use_give_a_criterion_each(ask):
    asked = ask("{mean_recovery: {}}", use="[eu-2023-2782, aoac-appendix-f]", levels="[10]")
    assert [(c.low, c.high) for c in asked.criteria] == [(70, 120), (60, 115)]


def test_source_picks_one_set(ask):
    asked = ask("{mean_recovery: {source: aoac-appendix-f}}", levels="[10]")
    assert [(c.low, c.high) for c in asked.criteria] == [(60, 115)]
    assert [each.id for each in asked.resolution.excerpts] == ["eu-2023-2782", "aoac-appendix-f"]


def test_the_estimate_of_a_set_may_be_judged_by_the_interval(ask):
    (criterion,) = ask("{rsd_r: {judge_by: interval}}").criteria
    assert criterion.judge_by is JudgeBy.INTERVAL
    assert any("by the interval, as the protocol asks" in note for note in criterion.notes)


def test_a_bound_follows_the_unit_of_the_finding(ask):
    limit = "  limit: {value: 5, source: own, reason: contract}"
    (criterion,) = ask("{loq: {}}", method=limit).criteria
    assert (criterion.level, criterion.high, criterion.unit) == (None, 2.5, "µg/kg")


# own bounds


def test_an_own_bound_carries_its_reason(ask):
    (criterion,) = ask(f"{{rsd_r: {own(15)}}}").criteria
    assert (criterion.high, criterion.reason, criterion.source) == (15, "agreed", "the laboratory's own")
    assert criterion.notes == ("Not laxer than eu-2023-2782: at most 20 %.",)


@pytest.mark.parametrize("number", ["25", "20.1"])
def test_an_own_bound_that_asks_for_less_than_a_set_in_use_needs_overrides(ask, number):
    asked = ask(f"{{rsd_r: {own(number)}}}")
    assert asked.errors == ["own-laxer-than-set"]
    assert "write overrides: eu-2023-2782 with a reason" in asked.problem("own-laxer-than-set")
    assert "protocol.yaml:19:14  the own bound" in asked.problem("own-laxer-than-set")


def test_an_own_bound_with_one_end_asks_for_less_than_a_range(ask):
    asked = ask("{mean_recovery: {at_most: 110, judge_by: interval, source: own, reason: agreed}}")
    assert asked.errors == ["own-laxer-than-set"]


def test_overrides_replaces_the_bound_and_says_what_it_was(ask):
    text = "{rsd_r: {at_most: 25, judge_by: estimate, overrides: eu-2023-2782, reason: old instrument}}"
    asked = ask(text)
    assert asked.errors == []
    assert asked.criteria[0].notes == ("Replaces the bound of eu-2023-2782: at most 20 %.",)


def test_overrides_of_an_unknown_set_offers_the_nearest(ask):
    asked = ask("{rsd_r: {at_most: 25, judge_by: estimate, overrides: eu-2023-2783, reason: x}}")
    assert '"eu-2023-2782"' in asked.problem("unknown-set")
    assert asked.criteria == ()


@pytest.fixture
def asks_for_the_interval(monkeypatch):
    """The set in use replaced by a constructed one that is judged by the interval; none of the shipped is."""
    entry = Entry(finding="rsd_r", clause="1", at_most=20)
    made = CriteriaSet(
        id="eu-2023-2782", title="constructed", source="constructed", edition="", obtained="constructed",
        judge_by=JudgeBy.INTERVAL, entry=(entry,),
    )  # fmt: skip
    monkeypatch.setattr("validate.criteria.resolving.criteria_set", lambda name: made)


@pytest.mark.usefixtures("asks_for_the_interval")
def test_the_estimate_asks_for_less_where_the_set_asks_for_the_interval(ask):
    assert ask("{rsd_r: {judge_by: estimate}}").errors == ["laxer-judge-by"]
    assert ask(f"{{rsd_r: {own(15, 'estimate')}}}").errors == ["own-laxer-than-set"]
    assert ask(f"{{rsd_r: {own(15)}}}").errors == []


# names and levels that are wrong


def test_an_unknown_finding_offers_the_nearest_names(ask):
    asked = ask("{rsd_intermediat: {}}")
    assert asked.errors == ["unknown-finding"]
    assert 'did you mean "rsd_intermediate"?' in asked.problem("unknown-finding")


def test_an_unknown_set_offers_the_nearest(ask):
    asked = ask("{rsd_r: {}}", use="eu-2023-2872")
    assert asked.errors == ["unknown-set"]
    assert 'did you mean "eu-2023-2782"' in asked.problem("unknown-set")


def test_a_finding_that_the_set_does_not_bound_is_a_problem(ask):
    asked = ask("{bias: {}}")
    assert asked.errors == ["bound-missing-in-set"]
    assert "mean_recovery, rsd_r" in asked.problem("bound-missing-in-set")


def test_a_set_by_measurand_has_no_bound_for_another_one(ask):
    asked = ask("{mean_recovery: {}}", use="ec-401-2006", measurand="nivalenol", issued="2020-01-01")
    assert "bound-missing-in-set" in asked.errors
    assert "nothing for this measurand" in asked.problem("bound-missing-in-set")


def test_a_finding_to_accept_without_bound_and_set_is_a_problem(ask):
    assert ask("{rsd_r: {}}", use="[]").errors == ["no-bound"]


def test_a_level_that_is_not_declared_is_a_problem_at_its_place(ask):
    asked = ask("{rsd_r: {levels: [5, 50]}}", levels="[5, 500]")
    assert asked.errors == ["undeclared-level"]
    assert 'did you mean "500"' in asked.problem("undeclared-level")


def test_a_figure_of_the_whole_study_has_no_levels(ask):
    limit = "  limit: {value: 5, source: own, reason: contract}"
    assert ask("{loq: {levels: [5]}}", method=limit).errors == ["per-level-wanted"]
    assert ask("{rsd_r: {per: study}}").errors == ["per-study-wanted"]


def test_a_level_outside_the_printed_table_is_a_problem(ask):
    old = {"use": "ec-401-2006", "measurand": "deoxynivalenol", "issued": "2020-01-01"}
    asked = ask("{mean_recovery: {}}", levels="[50, 200]", **old)
    assert asked.errors == ["level-outside-rows"]
    assert [criterion.level for criterion in asked.criteria] == ["200"]
    assert "> 100 to ≤ 500 µg/kg" in asked.problem("level-outside-rows")


def test_a_bound_by_concentration_needs_a_level_and_a_mass_fraction(ask):
    assert ask("{rsd_r: {}}", use="horwitz", levels="[]").errors == ["level-needed"]
    assert ask("{rsd_r: {}}", use="horwitz", unit="µg/L").errors == ["unit-is-no-mass-fraction"]
    assert ask("{rsd_r: {}}", use="horwitz", levels="[0]").errors == ["no-prediction"]
    assert ask("{rsd_r: {}}", use="horwitz", levels="[2e9]").errors == ["no-prediction"]


def test_a_bound_relative_to_the_limit_needs_the_limit(ask):
    assert ask("{loq: {}}").errors == ["limit-needed"]


def test_all_problems_are_told_at_once(ask):
    asked = ask("{rsd: {}, bias: {}, rsd_r: {levels: [7]}}")
    assert sorted(asked.errors) == ["bound-missing-in-set", "undeclared-level", "unknown-finding"]


# sets that do not apply


def test_a_set_for_quantitative_use_on_a_screening_test_is_told(ask):
    limit = "  limit: {value: 5, source: own, reason: contract}"
    asked = ask("{rsd_r: {}}", intended_use="screening", method=limit)
    assert "set-for-other-use" in asked.codes and asked.errors == []
    assert any("for screening use" in note for note in asked.criteria[0].notes)


def test_an_own_quantitative_bound_on_a_screening_test_is_told_once_and_stays_with_its_criterion(ask):
    own = "{rsd_r: {at_most: 10, judge_by: estimate, source: own, reason: contract}}"
    asked = ask(own, intended_use="screening", use="[]")
    assert asked.codes == ["criterion-for-other-use"] and asked.errors == []
    assert '"rsd_r" belongs to quantitative use' in asked.problem("criterion-for-other-use")
    assert asked.criteria[0].notes == ("A figure of quantitative use; this study is about screening use.",)


def test_a_bound_on_a_screening_figure_in_a_quantitative_protocol_is_told(ask):
    own = "{false_suspect_rate: {at_most: 5, judge_by: estimate, source: own, reason: contract}}"
    asked = ask(own, use="[]")
    assert asked.codes == ["criterion-for-other-use"]
    assert "write intended_use: screening under this study" in asked.problem("criterion-for-other-use")


def test_a_study_that_says_what_it_is_about_has_no_clash_and_the_others_keep_theirs(ask):
    own = "{false_suspect_rate: {at_most: 5, judge_by: estimate, source: own, reason: contract}}"
    said = "    intended_use: screening\n"
    assert ask(own, use="[]", more=said).codes == []
    quantitative = "{rsd_r: {at_most: 10, judge_by: estimate, source: own, reason: contract}}"
    assert ask(quantitative, use="[]", more=said).codes == ["criterion-for-other-use"]
    assert ask(quantitative, use="[]", intended_use="screening", more="    intended_use: quantitative\n").codes == []


def test_a_quantitative_set_is_fit_for_a_quantitative_study_of_a_screening_protocol(ask):
    limit = "  limit: {value: 5, source: own, reason: contract}"
    said = "    intended_use: quantitative\n"
    asked = ask("{rsd_r: {}}", intended_use="screening", method=limit, more=said)
    assert "set-for-other-use" not in asked.codes
    assert not any("use" in note for note in asked.criteria[0].notes)


def test_a_claim_on_a_quantitative_figure_of_a_screening_test_is_told(ask):
    asked = ask("{}", intended_use="screening", use="[]", claims="claims:\n  rsd_r: {at_most: 10, source: a sheet}")
    assert asked.codes == ["criterion-for-other-use"]
    assert "quantitative use" in asked.criteria[0].notes[0]


def test_a_set_that_does_not_name_the_measurand_is_told(ask):
    asked = ask("{rsd_r: {}}", measurand="histamine")
    assert "set-for-other-measurand" in asked.codes and asked.errors == []


@pytest.mark.parametrize(("issued", "told"), [("2024-03-31", False), ("2024-04-01", True), ("2031-03-03", True)])
def test_a_repealed_set_is_warned_about_from_the_day_of_its_repeal(ask, issued, told):
    asked = ask("{rsd_r: {}}", use="ec-401-2006", issued=issued)
    assert ("set-repealed" in asked.codes) is told
    assert asked.errors == []


def test_the_warning_on_a_repealed_set_says_until_when_it_may_be_used(ask):
    warning = ask("{rsd_r: {}}", use="ec-401-2006").problem("set-repealed")
    assert "replaced by eu-2023-2782" in warning and "2029-01-01" in warning


def test_a_set_that_is_not_yet_in_force_is_told(ask):
    assert "set-not-yet-in-force" in ask("{rsd_r: {}}", issued="2024-03-31").codes


def test_horwitz_on_a_measurand_defined_by_its_method_is_told(ask):
    defined = "  defined_by_method: yes"
    assert "horwitz-on-defined-measurand" in ask("{rsd_r: {}}", use="horwitz", method=defined).codes
    horrat = "horrat_r-over-PRSD_R_horwitz-aoac"
    assert "horwitz-on-defined-measurand" in ask(f"{{{horrat}: {{}}}}", use="aoac-appendix-f", method=defined).codes
    assert "horwitz-on-defined-measurand" not in ask("{rsd_r: {}}", method=defined).codes


def test_bounds_of_a_set_that_the_purpose_expects_and_nobody_asks_for_are_told(ask):
    """A validation in one laboratory is not expected to give reproducibility: that stays out of the notice."""
    notice = ask("{mean_recovery: {}}").problem("set-bound-not-asked")
    assert "also bounds rsd_r, rsd_intermediate, loq; " in notice


# the wider bound


def test_the_wider_bound_travels_with_the_criterion(ask):
    exception = ask("{mean_recovery: {}, rsd_r: {}, rsd_intermediate: {}}").criteria[0].exception
    assert (exception.low, exception.high, exception.when_met) == (50, 130, ("rsd_r", "rsd_intermediate"))


def test_a_wider_bound_whose_condition_is_not_asked_for_is_told(ask):
    asked = ask("{mean_recovery: {}, rsd_r: {}}")
    assert "rsd_intermediate" in asked.problem("exception-not-usable")


def test_the_wider_bound_is_lost_when_a_condition_is_replaced_by_a_laxer_one(ask):
    weaker = "{at_most: 30, judge_by: estimate, overrides: eu-2023-2782, reason: x}"
    asked = ask(f"{{mean_recovery: {{}}, rsd_r: {weaker}, rsd_intermediate: {{}}}}")
    assert asked.criteria[0].exception is None
    assert any("not offered" in note for note in asked.criteria[0].notes)


def test_the_wider_bound_stays_when_a_condition_is_replaced_by_a_stricter_one(ask):
    stricter = "{at_most: 15, judge_by: interval, overrides: eu-2023-2782, reason: x}"
    asked = ask(f"{{mean_recovery: {{}}, rsd_r: {stricter}, rsd_intermediate: {{}}}}")
    assert asked.criteria[0].exception is not None


# claims


def test_a_claim_is_held_against_every_study_that_gives_the_figure(ask):
    more = "  again:\n    kind: trial\n    levels: [5, 10]\n    accept: {}\n"
    asked = ask("{}", claims="claims: {rsd_r: {at_most: 8, source: sheet}}", more=more)
    assert [criterion.id for criterion in asked.criteria] == ["trial/rsd_r@5", "again/rsd_r@5", "again/rsd_r@10"]
    assert {(c.kind, c.judge_by, c.source) for c in asked.criteria} == {("claim", JudgeBy.INTERVAL, "sheet")}


def test_a_claim_that_no_study_gives_stays_visible(ask):
    asked = ask("{}", claims="claims: {lod: {at_most: 1, source: sheet}}")
    (criterion,) = asked.criteria
    assert (criterion.study, criterion.finding, criterion.level, criterion.unit) == ("", "lod", None, "µg/kg")
    assert "claim-not-studied" in asked.codes and asked.errors == []


def test_a_claim_with_an_unknown_name_offers_the_nearest(ask):
    asked = ask("{}", claims="claims: {lodd: {at_most: 1, source: sheet}}")
    assert '"lod"' in asked.problem("unknown-claim")


def test_a_claim_at_a_level_that_no_study_declares_is_a_problem(ask):
    asked = ask("{}", claims="claims: {rsd_r: {at_most: 8, levels: [7], source: sheet}}")
    assert asked.errors == ["undeclared-level"]
    assert asked.criteria == ()


def test_an_unknown_minimum_design_offers_the_known_ones(ask):
    more = "    minimum_design: [eu-2021-809]\n"
    assert '"eu-2021-808"' in ask("{}", more=more).problem("unknown-design")
