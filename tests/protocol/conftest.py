"""Two invented kinds of study, so that this room is tested without any real one."""

from __future__ import annotations

from typing import Literal

import pytest
from pydantic import Field, model_validator

from validate.protocol.fields import Count, LevelText, Number
from validate.protocol.loading import load_protocol
from validate.protocol.settings import Model, StudySettings

HEAD = """\
format: 1
id: T-1
title: A test
issued: 2031-03-03
laboratory: Alder Ridge Growers' Laboratory (fictional)
purpose: validation
intended_use: quantitative
method: {measurand: ochratoxin A, matrix: green coffee, unit: µg/kg, scope: {from: 1, to: 40}}
"""
STUDY = """\
studies:
  first:
    kind: spiked
    design: {levels: [1, 5], replicates: 6}
    contamination: before extraction
"""


class Design(Model):
    levels: tuple[LevelText, ...] = Field(min_length=1, max_length=50)
    replicates: Count


class Fixed(Model):
    value: Number


class SpikedSettings(StudySettings):
    kind: Literal["spiked"]
    design: Design
    contamination: Literal["before extraction", "into the extract"]
    native: Number | Fixed | None = None


class GroupedSettings(StudySettings):
    kind: Literal["grouped"]
    days: Count
    runs: Count | None = None
    claimed: dict[LevelText, Number] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _fits(self) -> GroupedSettings:
        if self.runs is not None and self.runs < self.days:
            raise ValueError("there are fewer runs than days")
        return self


@pytest.fixture(scope="session")
def kinds():
    return {"spiked": SpikedSettings, "grouped": GroupedSettings}


@pytest.fixture
def load(tmp_path, kinds):
    """Load a text or bytes as the protocol of an empty folder."""

    def load(content: str | bytes):
        path = tmp_path / "protocol.yaml"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return load_protocol(path, kinds)

    return load
