"""The figures that a linearity study can give, in the words of the dossier."""

from __future__ import annotations

from validate.vocabulary.finding import FindingKind


def _kind(name: str, title: str, symbol: str, unit: str, characteristic: str = "", **more: bool) -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, characteristic=characteristic,
                       **{"per_level": False, **more})  # type: ignore[arg-type]  # fmt: skip


FINDINGS = (
    _kind("largest_deviation", "Largest deviation from linearity in percent of the level", "d_max", "%", "linearity",
          smaller_is_better=True),
    _kind("deviation", "Deviation in percent of the level", "d", "%", "linearity", per_level=True),
    _kind("curvature_deviation", "Largest distance between curve and line in percent of the level", "D_max", "%",
          "linearity", smaller_is_better=True),
    _kind("working_range_from", "Lower end of the working range", "x_low", "method", "linearity"),
    _kind("working_range_to", "Upper end of the working range", "x_high", "method", "linearity"),
    _kind("slope", "Slope of the line", "b", ""),
    _kind("intercept", "Intercept of the line", "a", ""),
    _kind("residual_sd", "Residual standard deviation of the line", "s_y", "", smaller_is_better=True),
    _kind("method_sd", "Residual standard deviation in units of content", "s_x0", "method", smaller_is_better=True),
    _kind("method_cv", "Residual standard deviation in percent of the mean level", "V_x0", "%", smaller_is_better=True),
    _kind("set_point_deviation", "Mean deviation of the readings of a set point in percent", "d", "%", per_level=True),
)  # fmt: skip
