"""Deming's line: both ways of measuring have errors."""

from __future__ import annotations

import numpy as np
import pytest

from validate.stats.comparison import deming
from validate.stats.regression import line


@pytest.fixture
def points():
    random = np.random.default_rng(5)
    content = np.linspace(10, 100, 15)
    return content + random.normal(0, 3, 15), 1.1 * content + random.normal(0, 3, 15)


def test_the_slope_with_equal_errors_is_the_principal_axis(points):
    x, y = points
    values, vectors = np.linalg.eigh(np.cov(x, y))
    axis = vectors[:, np.argmax(values)]
    assert deming(x, y, variance_ratio=1).slope == pytest.approx(axis[1] / axis[0], rel=1e-12)


def test_exchanging_the_two_turns_the_slope_over(points):
    x, y = points
    assert deming(y, x, variance_ratio=1 / 4).slope == pytest.approx(1 / deming(x, y, variance_ratio=4).slope)


def test_without_errors_of_x_it_is_the_ordinary_line(points):
    x, y = points
    assert deming(x, y, variance_ratio=1e9).slope == pytest.approx(line(x, y).slope, rel=1e-6)


def test_the_standard_error_is_that_of_leaving_one_point_out_at_a_time(points):
    x, y = points
    keep = [np.arange(15) != i for i in range(15)]
    left = [deming(x[k], y[k], variance_ratio=1) for k in keep]
    slopes, intercepts = np.array([f.slope for f in left]), np.array([f.intercept for f in left])
    found = deming(x, y, variance_ratio=1)
    for values, se in ((slopes, found.se_slope), (intercepts, found.se_intercept)):
        assert se == pytest.approx(np.sqrt(14 / 15 * np.sum((values - values.mean()) ** 2)))


def test_what_gives_no_line_is_refused():
    x = [1.0, 2, 3, 4, 5, 6, 7, 8, 9, 10]
    with pytest.raises(ValueError, match="at least 10"):
        deming(x[:9], x[:9], variance_ratio=1)
    with pytest.raises(ValueError, match="one of each"):
        deming(x, [*x, 11.0], variance_ratio=1)
    with pytest.raises(ValueError, match="do not vary together"):
        deming(x, [3.0] * 10, variance_ratio=1)
