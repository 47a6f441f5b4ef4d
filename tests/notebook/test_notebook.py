"""What a notebook shows: tables as DataFrames, evaluations, findings, plots and sections inline."""

from pathlib import Path

import pytest

import validate

EXAMPLE = Path(validate.__file__).parent / "studies" / "recovery" / "example"


@pytest.fixture(scope="module")
def work():
    return validate.load(EXAMPLE)


@pytest.fixture(scope="module")
def evaluation(work):
    return validate.evaluate(work)


def test_findings_are_a_table_with_one_row_per_finding(evaluation):
    table = validate.findings(evaluation)
    assert len(table) == sum(len(study.as_reported.findings) for study in evaluation.studies)
    assert {"value", "unit", "low", "high", "n", "df"} <= set(table.columns)
    computed = table[table.value.notna() & table.low.notna()]
    assert ((computed.low <= computed.value) & (computed.value <= computed.high)).all()


def test_requirements_are_a_table_with_the_verdict_of_every_criterion(evaluation):
    table = validate.requirements(evaluation)
    assert len(table) == len(evaluation.requirements) > 0
    assert set(table.verdict) <= {"met", "not met", "not shown"}


def test_an_evaluation_shows_its_conclusion_and_its_verdicts(evaluation):
    shown = evaluation._repr_html_()
    assert evaluation.conclusion.sentences[0] in shown
    assert shown.count("<tr>") == len(evaluation.requirements) + 1


def test_a_finding_shows_value_limits_formula_and_source(evaluation):
    finding = next(f for f in evaluation.studies[0].as_reported.findings if f.name == "mean_recovery")
    shown = finding._repr_html_()
    assert "95 % limits" in shown and "formula" in shown and "rows" in shown


def test_a_plot_shows_itself_as_a_drawing_with_its_sentence(evaluation):
    plot = evaluation.studies[0].as_reported.plots[0]
    shown = plot._repr_html_()
    assert "<svg" in shown and plot.sentence in shown


def test_a_section_is_that_of_the_dossier_and_an_unknown_one_is_an_error(work, evaluation):
    name = evaluation.studies[0].name
    assert "<svg" in validate.section(work, evaluation, name)._repr_html_()
    with pytest.raises(KeyError):
        validate.section(work, evaluation, "nowhere")


def test_text_from_files_is_escaped_inline(evaluation):
    finding = evaluation.studies[0].as_reported.findings[0]
    from dataclasses import replace

    assert "<script>" not in replace(finding, formula="<script>x</script>")._repr_html_()
