"""The samples of a comparison: readings of both methods, and the means of each sample."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.method_comparison.settings import PROPORTIONAL, RATIO, MethodComparisonSettings
from validate.vocabulary.finding import Rows

if TYPE_CHECKING:
    import pandas as pd

    from validate.tables.table import Table

NO_READING = ("", "NA")


@dataclass(frozen=True)
class Samples:
    """Readings of the samples that both methods measured as numbers, in order of first appearance.

    `reference` and `found` are single readings with the position of their sample in `names`;
    `x` and `y` the means of the samples. `censored` are rows with `<2` or `n.d.`, `missing` rows
    without a reading of one method, `unmatched` samples that one method never read as a number.
    """

    job: StudyInput
    names: tuple[str, ...]
    reference: np.ndarray
    reference_of: np.ndarray
    found: np.ndarray
    found_of: np.ndarray
    index: pd.Index
    censored: tuple[int, ...]
    missing: tuple[int, ...]
    unmatched: tuple[str, ...]

    @property
    def settings(self) -> MethodComparisonSettings:
        return self.job.settings  # type: ignore[return-value]

    @property
    def table(self) -> Table:
        return self.job.table  # type: ignore[return-value]

    @property
    def unit(self) -> str:
        return self.job.method.unit

    @property
    def n(self) -> int:
        return len(self.names)

    @property
    def rows(self) -> tuple[Rows, ...]:
        return (self.table.rows(self.index),)

    @property
    def x(self) -> np.ndarray:
        return self._means(self.reference, self.reference_of)

    @property
    def y(self) -> np.ndarray:
        return self._means(self.found, self.found_of)

    @property
    def are_positive(self) -> bool:
        return bool(np.all(self.reference > 0) and np.all(self.found > 0))

    @property
    def proportional(self) -> bool:
        return self.settings.line.errors == PROPORTIONAL

    @property
    def as_ratios(self) -> bool:
        return self.settings.differences == RATIO

    @property
    def have_replicates(self) -> bool:
        return len(self.reference) > self.n or len(self.found) > self.n

    def for_line(self) -> tuple[np.ndarray, np.ndarray]:
        """Means of the samples, of logarithms where errors are proportional."""
        if not self.proportional:
            return self.x, self.y
        return self._means(np.log(self.reference), self.reference_of), self._means(np.log(self.found), self.found_of)

    def averaging(self) -> tuple[float, float]:
        """Mean of 1/m over the samples: the share of a single reading's variance that a mean keeps."""
        return tuple(  # type: ignore[return-value]
            float(np.mean(1 / np.bincount(codes, minlength=self.n))) for codes in (self.reference_of, self.found_of)
        )

    def _means(self, values: np.ndarray, codes: np.ndarray) -> np.ndarray:
        return np.bincount(codes, values, minlength=self.n) / np.bincount(codes, minlength=self.n)


def samples_of(job: StudyInput) -> Samples:
    """The samples with at least one number from each method; what is left out is named."""
    frame, marks = job.table.frame, job.table.marks  # type: ignore[union-attr]
    numbers = {role: frame[role].notna().to_numpy() for role in ("reference", "found")}
    labels = frame["sample"].to_numpy(dtype=object)
    read = {role: set(labels[has]) for role, has in numbers.items()}
    names = tuple(name for name in dict.fromkeys(labels) if name in read["reference"] and name in read["found"])
    place = {name: i for i, name in enumerate(names)}
    known = np.array([name in place for name in labels], dtype=bool)
    taken = {role: has & known for role, has in numbers.items()}
    codes = {role: np.array([place[name] for name in labels[chosen]], dtype=np.intp) for role, chosen in taken.items()}
    marked = marks[["reference", "found"]]
    empty = marked.isin(NO_READING).to_numpy() & frame[["reference", "found"]].isna().to_numpy()
    censored = ((marked != "").to_numpy() & ~empty & frame[["reference", "found"]].isna().to_numpy()).any(axis=1)
    return Samples(
        job=job,
        names=names,
        reference=frame["reference"].to_numpy(dtype=float)[taken["reference"]],
        reference_of=codes["reference"],
        found=frame["found"].to_numpy(dtype=float)[taken["found"]],
        found_of=codes["found"],
        index=frame.index[taken["reference"] | taken["found"]],
        censored=tuple(int(row) for row in frame.index[censored]),
        missing=tuple(int(row) for row in frame.index[empty.any(axis=1)]),
        unmatched=tuple(str(name) for name in dict.fromkeys(labels) if name not in place),
    )
