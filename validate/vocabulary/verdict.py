"""The three verdicts, what a verdict on an estimate is worth, and on what a verdict rests."""

from __future__ import annotations

from enum import StrEnum


class Verdict(StrEnum):
    """The only outcomes a criterion can have."""

    MET = "met"
    NOT_MET = "not met"
    NOT_SHOWN = "not shown"


class Evidence(StrEnum):
    """For a verdict on an estimate: whether the interval rule agrees with it."""

    FIRM = "firm"
    LIMIT_WITHIN_INTERVAL = "limit within interval"


class JudgeBy(StrEnum):
    """What is held against the bound: the estimate, or its interval."""

    ESTIMATE = "estimate"
    INTERVAL = "interval"
