"""Detection: when a signal is more than a blank, and the smallest amount that shows.

| data | function |
|---|---|
| blanks | `from_blanks`; can they be used at all: `unusable_blanks` |
| a line with constant scatter | `minimum_detectable` (both errors bounded); `from_calibration` (multiples of an SD) |
| low spikes through the whole procedure | `method_detection_limit` |
| detected or not at several levels | `probability_of_detection` |
| detected or not at one level | `proportion` (exact limits), `score_limits` |
| what a claim needs | `detections_needed`, `chance_of_detections` |

Their text is in the modules `detection_…`. Limits of different functions answer different
questions; none replaces samples measured at the limit.
"""

from validate.stats.detection_blanks import (
    BlankLimits,
    MethodDetectionLimit,
    from_blanks,
    method_detection_limit,
    noncentrality,
    unusable_blanks,
)
from validate.stats.detection_curve import DetectedLevel, DetectionCurve, probability_of_detection
from validate.stats.detection_line import MinimumDetectable, SlopeLimits, from_calibration, minimum_detectable
from validate.stats.detection_trials import (
    Proportion,
    chance_of_detections,
    detections_needed,
    proportion,
    score_limits,
)

__all__ = [
    "BlankLimits",
    "DetectedLevel",
    "DetectionCurve",
    "MethodDetectionLimit",
    "MinimumDetectable",
    "Proportion",
    "SlopeLimits",
    "chance_of_detections",
    "detections_needed",
    "from_blanks",
    "from_calibration",
    "method_detection_limit",
    "minimum_detectable",
    "noncentrality",
    "probability_of_detection",
    "proportion",
    "score_limits",
    "unusable_blanks",
]
