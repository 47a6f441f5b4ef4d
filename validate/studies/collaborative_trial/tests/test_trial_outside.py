"""Every figure of the published trials computed again from the data by general libraries and plain arithmetic."""

from __future__ import annotations

import csv
import math

import numpy as np
import pytest
from scipy import stats

from validate.studies.collaborative_trial.tests.trial_bench import ROOT, published, table, value

LEVELS = ("0.69", "1.252", "1.667", "3.25")
SPECIMENS = ("0.508", "0.366", "1.08", "0.642", "7.76", "1.79", "1.31")
ALPHA = 0.025


def rows_of(protocol: str, file: str) -> list[dict[str, str]]:
    with (ROOT / "protocols" / protocol / file).open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def sulfur():
    return published("sulfur-in-coal")


@pytest.fixture(scope="module")
def cells() -> dict[str, dict[str, np.ndarray]]:
    rows = rows_of("sulfur-in-coal", "sulfur.csv")
    labs = [str(i) for i in range(1, 9)]
    return {
        level: {
            lab: np.array([float(r["sulfur"]) for r in rows if (r["level"], r["laboratory"]) == (level, lab)])
            for lab in labs
        }
        for level in LEVELS
    }


def one_way(groups: list[np.ndarray]) -> tuple[float, float, float]:
    """MS_w, MS_b, n̄."""
    n, total = np.array([g.size for g in groups]), np.concatenate(groups)
    ms_w = sum(((g - g.mean()) ** 2).sum() for g in groups) / (n.sum() - n.size)
    ms_b = sum(g.size * (g.mean() - total.mean()) ** 2 for g in groups) / (n.size - 1)
    return ms_w, ms_b, (n.sum() - (n**2).sum() / n.sum()) / (n.size - 1)


def mls(parts: list[tuple[float, int]]) -> tuple[float, float]:
    """Graybill and Wang: square roots of the limits of a sum of mean squares with positive factors."""
    centre = sum(value for value, _ in parts)
    down = sum(((1 - df / stats.chi2.ppf(1 - ALPHA, df)) * value) ** 2 for value, df in parts)
    up = sum(((df / stats.chi2.ppf(ALPHA, df) - 1) * value) ** 2 for value, df in parts)
    return math.sqrt(max(0.0, centre - math.sqrt(down))), math.sqrt(centre + math.sqrt(up))


def ends(found, name: str, level: str) -> tuple[float, float]:
    shown = found.finding(name, level).interval("shown")
    return shown.low, shown.high


@pytest.mark.parametrize("level", LEVELS)
def test_figures_and_limits_of_sulfur_in_coal_are_those_of_plain_arithmetic(sulfur, cells, level) -> None:
    """ISO 5725-2 with unequal cells; limits: chi-square for s_r, MLS on unweighted cell means for s_R."""
    groups = list(cells[level].values())
    ms_w, ms_b, n_bar = one_way(groups)
    s_r, s_L = math.sqrt(ms_w), math.sqrt(max(0.0, (ms_b - ms_w) / n_bar))
    s_R, mean = math.hypot(s_r, s_L), float(np.concatenate(groups).mean())
    expected = {
        "mean": mean, "s_r": s_r, "s_L": s_L, "s_reproducibility": s_R, "r": 2.8 * s_r, "R": 2.8 * s_R,
        "rsd_r": 100 * s_r / mean, "rsd_reproducibility": 100 * s_R / mean,
    }  # fmt: skip
    for name, figure in expected.items():
        assert value(sulfur, name, level) == pytest.approx(figure, rel=1e-11), name
    df = sum(g.size - 1 for g in groups)
    wanted = [s_r * math.sqrt(df / stats.chi2.ppf(q, df)) for q in (1 - ALPHA, ALPHA)]
    assert ends(sulfur, "s_r", level) == pytest.approx(wanted)
    assert ends(sulfur, "r", level) == pytest.approx([2.8 * end for end in wanted])
    n_h = len(groups) / sum(1 / g.size for g in groups)
    parts = [(float(np.var([g.mean() for g in groups], ddof=1)), 7), ((1 - 1 / n_h) * ms_w, df)]
    assert ends(sulfur, "s_reproducibility", level) == pytest.approx(mls(parts))
    assert ends(sulfur, "R", level) == pytest.approx([2.8 * end for end in mls(parts)])


@pytest.mark.parametrize("level", LEVELS)
def test_horrat_of_sulfur_in_coal_is_the_ratio_to_the_predicted_scatter(sulfur, cells, level) -> None:
    """C is the general mean as a mass fraction; three forms, by hand from their formulas."""
    rsd_r, rsd_R = (value(sulfur, name, level) for name in ("rsd_r", "rsd_reproducibility"))
    c = value(sulfur, "mean", level) / 100
    assert value(sulfur, "horrat_R_horwitz", level) == pytest.approx(rsd_R / 2 ** (1 - 0.5 * math.log10(c)))
    assert value(sulfur, "horrat_R_thompson", level) == pytest.approx(rsd_R / (100 * 0.02 * c**0.8495 / c))
    assert value(sulfur, "horrat_r-over-PRSD_R_horwitz-aoac", level) == pytest.approx(rsd_r / (2 * c**-0.15))


@pytest.mark.parametrize("level", LEVELS)
def test_h_and_k_of_sulfur_in_coal_are_those_of_the_cells(sulfur, cells, level) -> None:
    means = np.array([g.mean() for g in cells[level].values()])
    sds = np.array([g.std(ddof=1) for g in cells[level].values()])
    rows = [row for row in table(sulfur, "consistency").rows if row[0] == level]
    assert [row[5] for row in rows] == pytest.approx(stats.zscore(means, ddof=1))
    assert [row[7] for row in rows] == pytest.approx(sds / np.sqrt(np.mean(sds**2)))


@pytest.mark.parametrize("level", LEVELS)
def test_statistics_of_the_tests_of_sulfur_in_coal_are_those_of_the_cells(sulfur, cells, level) -> None:
    """Cochran, Grubbs for the farthest mean, then for both pairs: none of the eight leaves a level."""
    labs = list(cells[level])
    means = np.array([cells[level][lab].mean() for lab in labs])
    variances = np.array([cells[level][lab].var(ddof=1) for lab in labs])
    order, far = np.argsort(means), int(np.argmax(np.abs(means - means.mean())))
    whole = means.var() * 8

    def without(*dropped: int) -> float:
        return np.delete(means, dropped).var() * 6 / whole

    high, low = (int(order[-1]), int(order[-2])), (int(order[0]), int(order[1]))
    wanted = [
        ("Cochran", labs[int(variances.argmax())], variances.max() / variances.sum()),
        (f"Grubbs, {'highest' if means[far] > means.mean() else 'lowest'}", labs[far],
         abs(means[far] - means.mean()) / means.std(ddof=1)),
        ("Grubbs, two highest", ", ".join(labs[i] for i in high), without(*high)),
        ("Grubbs, two lowest", ", ".join(labs[i] for i in low), without(*low)),
    ]  # fmt: skip
    found = [row[1:4] for row in table(sulfur, "screening").rows if row[0] == level]
    assert [row[:2] for row in found] == [row[:2] for row in wanted]
    assert [row[2] for row in found] == pytest.approx([row[2] for row in wanted])


def test_the_three_forms_of_sulfur_in_coal_are_those_of_general_fits(sulfur, cells) -> None:
    """Mean ratio; weighted line, refitted with weights 1/ŝ² from the round before; line on logarithms."""
    means = np.array([value(sulfur, "mean", level) for level in LEVELS])
    rows = {(row[0], row[1]): row[2:] for row in table(sulfur, "forms").rows}
    for name, words in (("s_r", "repeatability, s_r"), ("s_reproducibility", "reproducibility, s_R")):
        s = np.array([value(sulfur, name, level) for level in LEVELS])
        assert rows[words, "s = b·m"][1] == pytest.approx(np.mean(s / means))
        fitted = s
        for _ in range(3):
            slope, intercept = np.polyfit(means, s, 1, w=1 / fitted)
            fitted = intercept + slope * means
        assert rows[words, "s = a + b·m"][:2] == pytest.approx((intercept, slope))
        line = stats.linregress(np.log10(means), np.log10(s))
        assert rows[words, "lg s = c + d·lg m"][:2] == pytest.approx((line.intercept, line.slope))


def test_components_of_the_cooperative_trial_are_those_of_a_general_analysis_of_variance() -> None:
    """statsmodels, laboratories and batches within them; limits of s_R and s_I by MLS on the mean squares."""
    import pandas as pd
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    found = published("coop")
    frame = pd.DataFrame(rows_of("coop", "coop.csv")).astype({"content": float})
    for level in SPECIMENS:
        fit = ols("content ~ C(laboratory) + C(laboratory):C(batch)", frame[frame["level"] == level]).fit()
        lab, batch, rest = anova_lm(fit)["mean_sq"]
        v_batch, v_lab = max(0.0, (batch - rest) / 2), max(0.0, (lab - batch) / 6)
        expected = {
            "s_r": rest, "s_intermediate": rest + v_batch, "s_L": v_lab, "s_reproducibility": rest + v_batch + v_lab
        }  # fmt: skip
        for name, variance in expected.items():
            assert value(found, name, level) == pytest.approx(math.sqrt(variance), abs=1e-9), (name, level)
        within = mls([(batch / 2, 12), (rest / 2, 18)])
        whole = mls([(lab / 6, 5), (batch / 3, 12), (rest / 2, 18)])
        assert ends(found, "s_intermediate", level) == pytest.approx(within)
        assert ends(found, "s_reproducibility", level) == pytest.approx(whole)


def test_k_and_cochran_of_the_cooperative_trial_look_within_batches() -> None:
    """Duplicates only: what batches add to a laboratory's scatter is no lack of repeatability."""
    found = published("coop")
    rows = rows_of("coop", "coop.csv")
    for level in SPECIMENS:
        own = [r for r in rows if r["level"] == level]
        variances = []
        for lab in sorted({r["laboratory"] for r in own}):
            pairs = [
                [float(r["content"]) for r in own if (r["laboratory"], r["batch"]) == (lab, batch)]
                for batch in ("B1", "B2", "B3")
            ]
            variances.append(np.mean([np.var(pair, ddof=1) for pair in pairs]))
        first = next(row for row in table(found, "screening").rows if row[0] == level)
        assert first[1] == "Cochran" and first[3] == pytest.approx(max(variances) / sum(variances))
        ks = [row[7] for row in table(found, "consistency").rows if row[0] == level]
        assert ks == pytest.approx(np.sqrt(variances / np.mean(variances)))


def test_components_of_the_binary_trial_are_those_of_a_general_analysis_of_variance() -> None:
    """statsmodels on 120 results coded 0 and 1; χ² of the 2 × 10 table by scipy; LPOD by t of the laboratories."""
    import pandas as pd
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    found = published("pod")
    rows = rows_of("pod", "pod.csv")
    counts = [(int(r["positive"]), int(r["total"])) for r in rows]
    coded = [(i, float(j < x)) for i, (x, n) in enumerate(counts) for j in range(n)]
    frame = pd.DataFrame(coded, columns=["laboratory", "y"])
    lab, rest = anova_lm(ols("y ~ C(laboratory)", frame).fit())["mean_sq"]
    assert value(found, "pod_s_r", "1") ** 2 == pytest.approx(rest)
    assert value(found, "pod_s_L", "1") ** 2 == pytest.approx((lab - rest) / 12)
    assert value(found, "pod_s_R", "1") ** 2 == pytest.approx(rest + (lab - rest) / 12)
    chi2, p, _, _ = stats.chi2_contingency([[x for x, _ in counts], [n - x for x, n in counts]], correction=False)
    assert table(found, "by_level").rows[0][-2:] == pytest.approx((chi2, p))
    pod = [x / n for x, n in counts]
    assert ends(found, "lpod", "1") == pytest.approx(stats.t.interval(0.95, 9, np.mean(pod), stats.sem(pod)))
