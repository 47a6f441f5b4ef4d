"""Published figures, from the protocols that ship with the project to the findings."""

from __future__ import annotations

import pytest

from validate.pipeline import evaluate as evaluate_prepared
from validate.pipeline import prepare
from validate.studies.linearity.tests.linearity_bench import ROOT, finding_of, table_of, value
from validate.vocabulary.evaluation import StudyResult


def result_of(protocol: str) -> StudyResult:
    evaluation = evaluate_prepared(prepare(ROOT / "protocols" / protocol))
    return next(study.as_reported for study in evaluation.studies if study.kind == "linearity")


@pytest.fixture(scope="module")
def fluorescein() -> StudyResult:
    return result_of("fluorescein")


@pytest.fixture(scope="module")
def nitrite() -> StudyResult:
    return result_of("nitrite")


@pytest.mark.parametrize(("name", "printed"), [("slope", "1.93"), ("intercept", "1.52")])
def test_fluorescein_line_is_the_printed_one(fluorescein: StudyResult, name: str, printed: str) -> None:
    """Miller and Miller, chapter 5 (from memory): b = 1.93, a = 1.52."""
    assert f"{value(fluorescein, name):.2f}" == printed


@pytest.mark.parametrize(("name", "half"), [("slope", "0.11"), ("intercept", "0.76")])
def test_fluorescein_limits_are_the_printed_ones(fluorescein: StudyResult, name: str, half: str) -> None:
    """Miller and Miller (from memory): 1.93 ± 0.11 and 1.52 ± 0.76 at 95 %."""
    shown = finding_of(fluorescein, name).interval("shown")
    assert f"{(shown.high - shown.low) / 2:.2f}" == half


@pytest.mark.parametrize(("name", "printed", "places"), [("slope", "0.0409", 4), ("intercept", "0.295", 3)])
def test_fluorescein_standard_errors_are_the_printed_ones(
    fluorescein: StudyResult, name: str, printed: str, places: int
) -> None:
    """Miller and Miller (from memory): s_b = 0.0409, s_a = 0.295."""
    assert f"{finding_of(fluorescein, name).sampling.se:.{places}f}" == printed


def test_fluorescein_residual_sd_differs_from_print_by_the_rounding_of_the_source(fluorescein: StudyResult) -> None:
    """Printed 0.4329 (from memory): residuals about 1.52 + 1.93·x give √(0.9368/5) = 0.43285, printed upwards."""
    x, y = [0, 2, 4, 6, 8, 10, 12], [2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7]
    rounded = sum((b - round(1.52 + 1.93 * a, 2)) ** 2 for a, b in zip(x, y, strict=True))
    assert f"{(rounded / 5) ** 0.5:.4f}" == "0.4329"
    assert value(fluorescein, "residual_sd") == pytest.approx(0.4329, abs=1e-4)
    assert value(fluorescein, "residual_sd") == pytest.approx(0.432848, abs=5e-7)


def test_fluorescein_correlation_is_the_printed_one_in_small_print_only(fluorescein: StudyResult) -> None:
    """Miller and Miller (from memory): r = 0.9989."""
    assert "r = 0.9989," in fluorescein.facts["correlation"]
    assert not any("r_squared" in finding.name for finding in fluorescein.findings)


@pytest.mark.parametrize(
    ("signal", "content", "error"), [(2.9, "0.72", "0.26"), (13.5, "6.21", "0.24"), (23.0, "11.13", "0.26")]
)
def test_fluorescein_samples_are_read_as_printed(
    fluorescein: StudyResult, signal: float, content: str, error: str
) -> None:
    """Miller and Miller (from memory): content and its standard error for three samples."""
    row = next(row for row in table_of(fluorescein, "read").rows if row[0] == signal)
    assert (f"{row[1]:.2f}", f"{row[2]:.2f}") == (content, error)


def test_nitrite_line_is_the_recalled_one(nitrite: StudyResult) -> None:
    """ISO 8466-1:1990, clause 5 (from memory): a = 0.018, b = 2.575."""
    assert f"{value(nitrite, 'intercept'):.3f}" == "0.018"
    assert f"{value(nitrite, 'slope'):.3f}" == "2.575"


def test_nitrite_figures_of_the_method_are_those_recomputed(nitrite: StudyResult) -> None:
    """Recomputed from the data of ISO 8466-1, whose printed figures could not be recalled: s_y, s_x0, V_x0."""
    assert f"{value(nitrite, 'residual_sd'):.7f}" == "0.0051659"
    assert f"{value(nitrite, 'method_sd'):.8f}" == "0.00200596"
    assert f"{value(nitrite, 'method_cv'):.6f}" == "0.729439"


def test_nitrite_quadratic_and_fitting_test_are_those_recomputed(nitrite: StudyResult) -> None:
    """Recomputed: 0.0135 + 2.6202727·x − 0.0818182·x²; F 0.80792 against 12.2464 on 1 and 7."""
    quadratic = table_of(nitrite, "curve").rows[1]
    assert [f"{part:.7f}" for part in quadratic[1:4]] == ["0.0135000", "2.6202727", "-0.0818182"]
    mandel = next(row for row in table_of(nitrite, "diagnostics").rows if "Mandel" in row[0])
    assert (f"{mandel[3]:.5f}", f"{mandel[4]:.4f}", mandel[5]) == ("0.80792", "12.2464", "1, 7")
    assert mandel[7] == "not significant at 99 %"
