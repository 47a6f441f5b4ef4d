"""The first paragraph: what changed by treatment, how many criteria are met, what limits the verdict."""

from dataclasses import replace

from validate.criteria.concluding import conclude
from validate.vocabulary.evaluation import Criterion, Gap, Judgement, MinimumDesign, Requirement
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict

MET, NOT_MET, NOT_SHOWN = Verdict.MET, Verdict.NOT_MET, Verdict.NOT_SHOWN


def requirement(level, reported, recorded=None, *, study="spikes", judge_by=JudgeBy.ESTIMATE, firm=True) -> Requirement:
    evidence = Evidence.FIRM if firm else Evidence.LIMIT_WITHIN_INTERVAL
    criterion = Criterion(
        kind="criterion", study=study, finding="mean_recovery", title="Mean recovery", level=level, low=70, high=120,
        unit="%", wording="70 % to 120 %", judge_by=judge_by, source="a guide",
    )  # fmt: skip
    return Requirement(
        criterion=criterion,
        as_reported=Judgement(verdict=reported, reason="", evidence=evidence),
        as_recorded=Judgement(verdict=recorded or reported, reason=""),
    )


TITLES = {"spikes": "Spiked samples", "certified": "Certified material"}


def concluded(*requirements, gaps=(), designs=(), titles=TITLES):
    return conclude(requirements, gaps, designs, unit="µg/kg", titles=titles)


def test_verdicts_changed_by_treatment_of_the_data_are_the_first_sentence():
    conclusion = concluded(requirement("1", MET), requirement("5", MET, NOT_MET))
    assert conclusion.sentences[0].startswith("Amendments or exclusions changed a verdict")
    assert "from not met to met: mean recovery at 5 µg/kg" in conclusion.sentences[0]
    assert conclusion.changed_by_treatment == ("mean recovery at 5 µg/kg: not met as recorded, met as reported",)


def test_every_verdict_is_counted_once():
    conclusion = concluded(requirement("1", MET), requirement("2", NOT_MET), requirement("5", NOT_SHOWN))
    assert (conclusion.criteria, conclusion.met, conclusion.not_met, conclusion.not_shown) == (3, 1, 1, 1)
    assert "Of 3 criteria 1 met, 1 not met, 1 not shown." in conclusion.sentences


def test_only_verdicts_by_the_estimate_count_as_firm_or_not():
    conclusion = concluded(
        requirement("1", MET), requirement("2", MET, firm=False), requirement("5", MET, judge_by=JudgeBy.INTERVAL)
    )
    assert (conclusion.by_estimate, conclusion.firm) == (2, 1)


def test_levels_of_one_finding_are_named_together_and_the_study_only_where_two_give_it():
    alone = concluded(requirement("1", NOT_SHOWN), requirement("5", NOT_SHOWN))
    assert "Not shown: mean recovery at 1 and 5 µg/kg." in alone.sentences
    two = concluded(requirement("1", NOT_SHOWN), requirement("1", MET, study="certified"))
    assert "Not shown: mean recovery at 1 µg/kg (Spiked samples)." in two.sentences


def test_studies_of_the_same_title_are_told_apart_by_their_keys():
    alike = {"spikes": "Recovery", "certified": "Recovery"}
    two = concluded(requirement("1", NOT_SHOWN), requirement("1", MET, study="certified"), titles=alike)
    assert "Not shown: mean recovery at 1 µg/kg (Recovery, spikes)." in two.sentences


def test_gaps_and_short_designs_limit_the_conclusion():
    conclusion = concluded(
        requirement("1", MET),
        gaps=[Gap(characteristic="linearity", title="Linearity", why="")],
        designs=[MinimumDesign(study="spikes", source="a guide", clause="1", asked="18", present="6", short=True)],
    )
    assert "Smaller than a guide asks: Spiked samples (a guide)." in conclusion.sentences
    assert "Expected by the purpose and not studied here: linearity." in conclusion.sentences


def test_protocol_without_criteria_says_that_no_verdict_was_given():
    assert concluded().sentences == ("No criterion was set; the findings stand without a verdict.",)


def test_a_name_keeps_its_capitals_inside_a_sentence():
    one = requirement("1", NOT_SHOWN)
    titled = replace(one, criterion=replace(one.criterion, title="HorRat, RSD_r / PRSD_R"))
    assert "Not shown: HorRat, RSD_r / PRSD_R at 1 µg/kg." in concluded(titled).sentences
