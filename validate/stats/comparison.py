"""Two ways of measuring the same samples: do they agree, and where not?

| question | function |
|---|---|
| line when both have errors of a known ratio | `deming` |
| line by ranks, errors of any distribution | `passing_bablok` |
| bias that the line gives at a level | `bias_at` |
| between which limits do the differences (or ratios) lie? | `bland_altman` |
| do both put a sample on the same side of a limit? | `classification` |

The text is in the modules `comparison_…`. Correlation is no measure of agreement and is not here.
"""

from validate.stats.comparison_deming import Deming, deming
from validate.stats.comparison_differences import BlandAltman, bland_altman
from validate.stats.comparison_level import BiasAt, Classification, bias_at, classification
from validate.stats.comparison_ranks import PassingBablok, passing_bablok

__all__ = [
    "BiasAt",
    "BlandAltman",
    "Classification",
    "Deming",
    "PassingBablok",
    "bias_at",
    "bland_altman",
    "classification",
    "deming",
    "passing_bablok",
]
