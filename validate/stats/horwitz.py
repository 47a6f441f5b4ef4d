"""Predicted between-laboratory precision from the mass fraction alone, and HorRat.

The curves describe what collaborative trials found on average; they say nothing of a
measurand that is defined by its method. There is no default model: published rules use
different ones under the same name.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, number

Model = Literal["horwitz", "horwitz-aoac", "thompson"]
Kind = Literal["R", "r-over-PRSD_R", "r-over-0.66-PRSD_R", "r-over-half-PRSD_R"]

DIVISOR: dict[str, float] = {"R": 1.0, "r-over-PRSD_R": 1.0, "r-over-0.66-PRSD_R": 0.66, "r-over-half-PRSD_R": 0.5}
"""What multiplies the predicted RSD_R in the denominator of each kind of HorRat."""


def predicted_rsd_percent(mass_fraction: ArrayLike, *, model: Model) -> float | Floats:
    """Predicted reproducibility RSD in per cent, PRSD_R.

    `"horwitz"`: 2^(1 − 0.5·log10 C); `"horwitz-aoac"`: 2·C^(−0.15);
    `"thompson"`: 100·σ/C with σ = 0.22·C below 1.2e-7, 0.02·C^0.8495 up to 0.138 and
    0.01·C^0.5 above. C is the mass fraction in kg/kg, 0 < C ≤ 1 (number or array); state
    whether it is the certified, the spiked or the observed one.

    Raises ValueError for a C outside that range: above 1 it is a mistake of units.

    Sources: Regulation (EC) No 401/2006 Annex II 4.3.1 (`horwitz`; low and middle
    branch of `thompson` in its note); AOAC Official Methods Appendix F (2012) Annex D
    Table D1 (`horwitz-aoac`); M. Thompson, Analyst 125 (2000) 385-386 (high branch of
    `thompson` from memory).

    >>> round(predicted_rsd_percent(1e-9, model="horwitz"), 2)
    45.25
    >>> round(predicted_rsd_percent(1e-9, model="horwitz-aoac"), 2)
    44.77
    >>> predicted_rsd_percent(1e-9, model="thompson")
    22.0
    """
    fraction = np.asarray(mass_fraction, dtype=np.float64)
    if not np.all((fraction > 0) & (fraction <= 1)):
        raise ValueError("the mass fraction must lie above 0 and at or below 1 kg/kg; check the unit")
    if model == "horwitz":
        rsd = np.exp2(1 - 0.5 * np.log10(fraction))
    elif model == "horwitz-aoac":
        rsd = 2 * fraction**-0.15
    elif model == "thompson":
        middle, high = 2 * fraction**-0.1505, fraction**-0.5
        rsd = np.where(fraction < 1.2e-7, 22.0, np.where(fraction <= 0.138, middle, high))
    else:
        raise ValueError(f"unknown model {model!r}; one of {', '.join(get_args(Model))} is needed")
    return rsd if rsd.ndim else float(rsd)


def predicted_sd(mass_fraction: ArrayLike, *, model: Model) -> float | Floats:
    """Predicted reproducibility SD as a mass fraction (kg/kg): C · PRSD_R / 100.

    Range, errors and sources as for `predicted_rsd_percent`.

    >>> f"{predicted_sd(1e-6, model='horwitz'):.3g}"
    '1.6e-07'
    """
    sd = np.asarray(mass_fraction, dtype=np.float64) * predicted_rsd_percent(mass_fraction, model=model) / 100
    return sd if sd.ndim else float(sd)


def horrat(rsd_percent: float, mass_fraction: float, *, model: Model, kind: Kind) -> float:
    """Observed over predicted relative standard deviation, in one of its four named forms.

    | kind | form | customary range |
    |---|---|---|
    | `R` | RSD_R / PRSD_R | 0.5 to 2.0 |
    | `r-over-PRSD_R` | RSD_r / PRSD_R | 0.3 to 1.3 |
    | `r-over-0.66-PRSD_R` | RSD_r / (0.66 · PRSD_R) | at most 2 |
    | `r-over-half-PRSD_R` | RSD_r / (0.5 · PRSD_R) | 0.5 to 2.0 (from memory) |

    For one RSD the forms differ by a factor of up to 2: never print the number without
    its form. Below a range is a question (averaging, copying, rounding?), not a failure.

    Raises ValueError for a negative RSD, a mass fraction outside (0, 1], an unknown kind.

    Sources: AOAC Appendix F (2012) Annex D section 2; Regulations (EC) No 401/2006 and
    333/2007 for the division by 0.66.

    >>> round(horrat(20.0, 1e-8, model="horwitz", kind="r-over-0.66-PRSD_R"), 3)
    0.947
    """
    if kind not in DIVISOR:
        raise ValueError(f"unknown kind {kind!r}; one of {', '.join(DIVISOR)} is needed")
    fraction = number(mass_fraction, "the mass fraction")
    predicted = DIVISOR[kind] * float(predicted_rsd_percent(fraction, model=model))
    return number(rsd_percent, "the RSD", not_below=0) / predicted
