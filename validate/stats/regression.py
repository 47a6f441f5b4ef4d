"""Calibration: the straight line, whether it is straight, and the way back to amounts.

| question | function |
|---|---|
| slope and intercept, weighted or through the origin | `line`; weights 1/x^p: `level_weights` |
| the same for thousands of analytes | `lines` |
| amount of a sample from its signal | `inverse_predict` |
| deviation in per cent at each level | `back_calculated` |
| bend over the range in per cent of the level | `quadratic_against_line` |
| significance of a bend (diagnostics) | `lack_of_fit`, `mandel_fitting_test` |

Their text is in the modules `calibration_…`. Whether the scatter changes with the level is asked in `variances`.
"""

from validate.stats.calibration_fit import (
    FittingTest,
    LackOfFit,
    QuadraticAgainstLine,
    lack_of_fit,
    mandel_fitting_test,
    quadratic_against_line,
)
from validate.stats.calibration_inverse import BackCalculated, InversePrediction, back_calculated, inverse_predict
from validate.stats.calibration_line import Line, level_weights, line
from validate.stats.calibration_lines import Lines, lines

__all__ = [
    "BackCalculated",
    "FittingTest",
    "InversePrediction",
    "LackOfFit",
    "Line",
    "Lines",
    "QuadraticAgainstLine",
    "back_calculated",
    "inverse_predict",
    "lack_of_fit",
    "level_weights",
    "line",
    "lines",
    "mandel_fitting_test",
    "quadratic_against_line",
]
