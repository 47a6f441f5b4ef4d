"""Protocols to plan, and the plan of a protocol text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from validate.pipeline import prepare
from validate.pipeline.planning import Planned, plan

PROTOCOL = """\
format: 1
id: PL-1
edition: 2
title: Constructed protocol
issued: 2031-03-03
laboratory: A fictional laboratory
purpose: validation
intended_use: quantitative
method:
  measurand: ochratoxin A
  matrix: green coffee
  unit: µg/kg
  reading: {resolution: 0.1}
  portion: {weigh: 20 g}
materials:
  standard: {kind: solution, value: 1000 ng/mL}
plan: {seed: 7, pipettes: [{from: 20 µL, to: 200 µL}, {from: 100 µL, to: 1 mL}]}
studies:
  recovery:
    kind: recovery
    design: {levels: [1, 5, 40], replicates: 2, days: 6, analysts: 2}
    contamination: spiked before extraction
    accept:
      mean_recovery: {per: level, between: [70, 120], judge_by: estimate, source: own, reason: constructed}
      rsd_r: {per: level, at_most: 20, judge_by: estimate, source: own, reason: constructed}
      rsd_intermediate: {per: level, at_most: 25, judge_by: interval, source: own, reason: constructed}
"""


@pytest.fixture(scope="session")
def protocol_text() -> str:
    return PROTOCOL


@pytest.fixture
def planned(tmp_path) -> Callable[..., Planned]:
    """The plan of the constructed protocol after some of its texts were replaced."""

    def make(*replaced: tuple[str, str]) -> Planned:
        return plan(prepare(written(tmp_path, *replaced), with_tables=False))

    return make


def written(folder: Path, *replaced: tuple[str, str]) -> Path:
    text = PROTOCOL
    for old, new in replaced:
        assert old in text
        text = text.replace(old, new)
    (folder / "protocol.yaml").write_text(text, encoding="utf-8")
    return folder
