"""What the suspicions of a round cost: how often each would speak of somebody where nothing is wrong."""

from __future__ import annotations

import numpy as np
import pytest

from validate.stats import proficiency, robust
from validate.studies.proficiency_round.false_alarms import (
    FALSE_ALARM,
    STEP,
    chance_of_exchange,
    chance_of_factor,
    most_alike,
    rarely,
)
from validate.studies.proficiency_round.suspicions import CRITICAL, FACTORS, MODE_SUPPORT, MODE_WEIGHT
from validate.studies.proficiency_round.tests.round_bench import long_table, round_of, written

SEED = 20310303


def suspected(study) -> tuple:
    return next((t.rows for t in study.as_reported.tables if t.name == "suspicions"), ())


def stated(samples: dict[str, float], percent: float) -> str:
    lines = [f"    samples: [{', '.join(samples)}]",
             "    assigned_value: {by: formulation, value: 1, u: 0, source: test}",
             f"    sigma_pt: {{by: prescribed, percent: {percent}, source: test}}", "    targets:"]  # fmt: skip
    lines += [f"      - {{sample: {name}, assigned_value: {{by: formulation, value: {x}, u: 0, source: test}}}}"
              for name, x in samples.items()]  # fmt: skip
    return "\n".join(lines) + "\n"


@pytest.mark.slow
@pytest.mark.parametrize(("apart", "ratio"), [(3.0, 1.0), (4.0, 1.0), (4.5, 1.3), (5.0, 2.0), (6.0, 2.4)])
def test_the_chance_of_an_exchange_is_that_of_four_million_sound_laboratories(apart, ratio):
    """Within four standard errors of the count."""
    rng, n, count = np.random.default_rng(SEED), 500_000, 0
    for _ in range(8):
        first, second = rng.standard_normal((2, n))
        action = (np.abs(first) >= 3) | (np.abs(second) >= 3)
        fits = (np.abs(first - apart) < 3 * ratio) & (np.abs(apart + ratio * second) < 3)
        count += int(np.count_nonzero(action & fits))
    expected = 8 * n * chance_of_exchange(apart, ratio)
    assert abs(count - expected) <= 4 * expected**0.5 + 1


@pytest.mark.slow
@pytest.mark.parametrize(("factor", "r"), [(10, 0.2), (10, 0.25), (10, 0.3), (0.1, 0.45), (0.1, 0.48)])
def test_the_chance_of_a_factor_is_that_of_four_million_sound_results(factor, r):
    rng, n, count = np.random.default_rng(SEED), 500_000, 0
    for _ in range(8):
        z = rng.standard_normal(n)
        count += int(np.count_nonzero((np.abs(z) >= 3) & (np.abs((1 + r * z) * factor - 1) <= 2 * r)))
    expected = 8 * n * chance_of_factor(factor, r)
    assert abs(count - expected) <= 4 * expected**0.5 + 1


@pytest.mark.slow
@pytest.mark.parametrize("n", [8, 12, 34, 100])
def test_sound_rounding_is_told_in_at_most_one_of_a_hundred_rounds(n):
    """A union bound: the rate lies below 1 % (three standard errors of 40,000 rounds are 0.15 %), not far below."""
    x = np.round(np.random.default_rng(SEED).standard_normal((40_000, n)) / STEP).astype(int)
    x.sort(axis=1)
    m = most_alike(n)
    alike = (x[:, m:] == x[:, : n - m]).any(axis=1)
    assert 0.0005 <= alike.mean() <= FALSE_ALARM + 3 * (FALSE_ALARM / 40_000) ** 0.5


def share_with_two_modes(populations) -> float:
    """Of 400 rounds; `populations` draws one, in units of σ_pt."""
    rng, told = np.random.default_rng(SEED), 0
    for _ in range(400):
        modes = proficiency.consensus_modes(populations(rng), 1.0, seed=1, resamples=200).modes
        told += any(mode.weight >= MODE_WEIGHT and mode.support >= MODE_SUPPORT for mode in modes[1:])
    return told / 400


@pytest.mark.slow
@pytest.mark.parametrize(
    ("n", "scatter", "share"), [(12, 1.0, 0.005), (34, 1.0, 0.0), (12, 1.5, 0.15), (24, 1.5, 0.05), (34, 1.5, 0.02)]
)
def test_a_second_mode_of_one_population_is_told_as_rarely_as_is_said(n, scatter, share):
    """To three standard errors of a share of 400 rounds."""
    found = share_with_two_modes(lambda rng: scatter * rng.standard_normal(n))
    assert abs(found - share) <= 3 * (max(share, 0.005) / 400) ** 0.5


@pytest.mark.slow
def test_two_populations_four_sigma_apart_are_told_in_nine_of_ten_rounds():
    found = share_with_two_modes(lambda rng: rng.standard_normal(34) + 4 * (np.arange(34) % 3 == 0))
    assert found == pytest.approx(0.9, abs=3 * (0.9 * 0.1 / 400) ** 0.5)


@pytest.mark.slow
@pytest.mark.parametrize(("own", "others"), [(5, 29), (5, 5), (8, 26), (12, 22)])
def test_sound_method_groups_are_told_apart_in_about_one_of_a_hundred(own, others):
    rng = np.random.default_rng(SEED)
    a, b = (robust.algorithm_a(rng.standard_normal((20_000, n))) for n in (own, others))
    u = 1.25 * np.hypot(a.sd / own**0.5, b.sd / others**0.5)
    assert 0.003 <= np.mean(np.abs(a.mean - b.mean) > CRITICAL * u) <= 0.013


@pytest.mark.slow
@pytest.mark.parametrize(("n", "share"), [(12, 0.074), (20, 0.028), (34, 0.0077)])
def test_an_honest_uncertainty_is_too_large_as_often_as_is_said(n, share):
    sd = robust.algorithm_a(np.random.default_rng(SEED).standard_normal((20_000, n))).sd
    assert np.mean(1.5 * sd < 1) == pytest.approx(share, abs=4 * (share / 20_000) ** 0.5)


def test_samples_must_lie_further_apart_the_more_laboratories_take_part():
    assert rarely(34, chance_of_exchange(4.3, 1)) and not rarely(34, chance_of_exchange(4.2, 1))
    assert rarely(100, chance_of_exchange(4.8, 1)) and not rarely(100, chance_of_exchange(4.3, 1))


def test_samples_too_much_alike_give_no_suspicion_of_an_exchange(tmp_path):
    """z of 4.1 and −1.2 on samples that lie four σ_pt apart: a round of 34 has such a sound laboratory in 1.5 %."""
    near, far = {"A": 100, "B": 140}, {"A": 100, "B": 160}
    for name, samples, expected in (("near", near, 0), ("far", far, 2)):
        folder = tmp_path / name
        folder.mkdir()
        results = {f"L{i:02d}": [x + i % 3 for x in samples.values()] for i in range(33)}
        results["M1"] = [samples["B"], samples["A"]]
        assert len(suspected(round_of(written(folder, long_table(results, "A", "B"), stated(samples, 10))))) == expected


def test_a_wide_sigma_gives_no_suspicion_of_a_factor():
    assert rarely(2000, chance_of_factor(10, 0.15), len(FACTORS))
    assert not rarely(34, chance_of_factor(10, 0.25), len(FACTORS))
