"""The tests for outlying laboratories at one level, in the order of the standard; see `interlaboratory`."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, count
from validate.stats.grubbs_pair_critical import CRITICAL
from validate.stats.interlaboratory_cells import Cell, cells_of
from validate.stats.outliers import End, cochran, grubbs, grubbs_pair

LARGEST_SHARE = 2 / 9
"""No further laboratory is taken out of a level beyond this share of them (IUPAC 1995, from memory)."""
ROUNDING = 1e-12
"""Relative differences below it come from the arithmetic of doubles."""
Word = Literal["outlier", "straggler", "nothing", "not tested"]


@dataclass(frozen=True)
class Step:
    """One test in its order. `laboratories` stand out most; `removed` says whether they left the level.

    `word` is `outlier` beyond the 1 % point, `straggler` beyond the 5 % point. An outlier that
    stays because too many laboratories had left is told by `reason`.
    """

    test: str
    laboratories: tuple[Hashable, ...]
    statistic: float | None
    critical_5: float | None
    critical_1: float | None
    word: Word
    removed: bool = False
    reason: str = ""


@dataclass(frozen=True)
class Screening:
    """The tests in the order in which they were made, and whom they took out."""

    steps: tuple[Step, ...]
    removed: tuple[Hashable, ...]
    n_laboratories: int
    stopped: bool
    """Whether an outlier stayed in because 2/9 of the laboratories may leave and no more."""

    @property
    def stragglers(self) -> tuple[Hashable, ...]:
        """Laboratories beyond a 5 % but no 1 % point, in order of the tests."""
        return tuple(dict.fromkeys(lab for step in self.steps if step.word == "straggler" for lab in step.laboratories))


def screen(
    values: ArrayLike,
    laboratory: Iterable[Hashable],
    *,
    run: Iterable[Hashable] | None = None,
    removal: Literal[0.01, 0.05] = 0.01,
) -> Screening:
    """Cochran's and Grubbs' tests at one level, in the order of the standard.

    1. Cochran on the cell variances (n: the most frequent number of results); an outlier leaves and
       the test is made once more. 2. Grubbs' two-sided test of the cell mean farthest out; an
       outlier leaves and the opposite end is tested. 3. Only where the single test found none:
       the two highest and the two lowest together. A laboratory leaves with all its results at the level,
       and never so that more than 2/9 of them have left. Stragglers stay.

    `run`: labels of runs within laboratories; Cochran then looks at the scatter within runs.
    `removal`: the point beyond which one leaves; 0.01 is the standard's (IUPAC 1995 uses 2.5 %,
    not offered; 0.05 shows what a sharper rule costs). The result is a proposal: a
    reason decides.

    Raises ValueError for fewer than 2 laboratories or a missing value.

    Source: ISO 5725-2:1994, 7.3.3 and 7.3.4 (from memory).

    >>> x = [5.1, 5.0, 5.2, 5.1, 4.9, 5.0, 5.1, 5.2, 5.0, 5.1, 5.3, 5.2, 5.0, 5.0, 6.9, 7.0, 5.1, 5.0]
    >>> found = screen(x, [lab for lab in "ABCDEFGHI" for _ in range(2)])
    >>> found.removed, [step.word for step in found.steps]
    (('H',), ['nothing', 'outlier', 'nothing'])
    """
    cells = cells_of(values, laboratory, run=run)
    if len(cells) < 2:
        raise ValueError(f"{count(len(cells), 'laboratory')} found, at least 2 needed")
    if removal not in (0.01, 0.05):
        raise ValueError("removal must be 0.01 or 0.05")
    tests = _Tests(cells, removal)
    tests.cochran_twice()
    tests.grubbs_in_order()
    return Screening(tuple(tests.steps), tuple(tests.removed), len(cells), tests.stopped)


class _Tests:
    """The cells that are still in, and the steps so far."""

    def __init__(self, cells: Sequence[Cell], removal: float) -> None:
        self.cells = {cell.laboratory: cell for cell in cells}
        self.most = math.floor(LARGEST_SHARE * len(cells) + 1e-9)
        self.removal = removal
        self.steps: list[Step] = []
        self.removed: list[Hashable] = []
        self.stopped = False

    def cochran_twice(self) -> None:
        for test in ("Cochran", "Cochran, repeated"):
            repeated = {lab: cell for lab, cell in self.cells.items() if cell.sd is not None}
            variances = [cell.sd**2 for cell in repeated.values()]
            if len(repeated) < 3:
                return self._untested(test, "fewer than 3 laboratories with a second result")
            if not any(variances):
                return self._untested(test, "all standard deviations are 0")
            usual = int(np.bincount([cell.df for cell in repeated.values()]).argmax())
            flag = cochran(variances, usual + 1)
            if not self._made(test, (list(repeated)[flag.index],), flag.statistic, flag.critical_5, flag.critical_1):
                return None
        return None

    def grubbs_in_order(self) -> None:
        means = self._means("Grubbs")
        if means is None:
            return
        flag = grubbs(means)
        end: End = "high" if flag.value > means.mean() else "low"
        lab = list(self.cells)[flag.index]
        if self._made(f"Grubbs, {_WORD[end]}", (lab,), flag.statistic, flag.critical_5, flag.critical_1):
            self._opposite("low" if end == "high" else "high")
        elif not self.steps[-1].reason:
            self._pairs()

    def _opposite(self, end: End) -> None:
        test = f"Grubbs, {_WORD[end]}, after removal"
        means = self._means(test)
        if means is None:
            return
        critical, flag = grubbs(means), grubbs(means, sides=1, end=end)
        lab = list(self.cells)[flag.index]
        self._made(test, (lab,), flag.statistic, critical.critical_5, critical.critical_1)

    def _pairs(self) -> None:
        ends: tuple[End, End] = ("high", "low")
        for end in ends:
            test = f"Grubbs, two {_WORD[end]}"
            if not min(CRITICAL) <= len(self.cells) <= max(CRITICAL):
                self._untested(test, f"critical values are known for {min(CRITICAL)} to {max(CRITICAL)} laboratories")
                return
            means = self._means(test)
            if means is None:
                return
            flag = grubbs_pair(means, end=end)
            names = list(self.cells)
            labs = tuple(names[i] for i in flag.index)
            if self._made(test, labs, flag.statistic, flag.critical_5, flag.critical_1, small=True):
                return

    def _means(self, test: str) -> Floats | None:
        means = np.asarray([cell.mean for cell in self.cells.values()])
        if means.size < 3:
            return self._untested(test, "fewer than 3 laboratories")
        equal = np.ptp(means) <= ROUNDING * np.abs(means).max()
        return self._untested(test, "all cell means are equal") if equal else means

    def _made(
        self, test: str, labs: tuple[Hashable, ...], statistic: float, five: float, one: float, *, small: bool = False
    ) -> bool:
        """Note a test; True when it took its laboratories out. Small statistics are extreme for pairs."""

        def beyond(critical: float) -> bool:
            return statistic < critical if small else statistic > critical

        word: Word = "outlier" if beyond(one) else "straggler" if beyond(five) else "nothing"
        wanted = beyond(one if self.removal == 0.01 else five)
        removed = wanted and len(self.removed) + len(labs) <= self.most
        stays = wanted and not removed
        reason = f"stays: no more than 2/9 of the laboratories ({self.most}) may leave" if stays else ""
        self.stopped |= stays
        self.steps.append(Step(test, labs, statistic, five, one, word, removed, reason))
        for lab in labs if removed else ():
            self.removed.append(lab)
            del self.cells[lab]
        return removed

    def _untested(self, test: str, reason: str) -> None:
        self.steps.append(Step(test, (), None, None, None, "not tested", False, reason))


_WORD: Mapping[str, str] = {"high": "highest", "low": "lowest"}
