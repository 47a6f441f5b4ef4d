"""The smallest dossier: a constructed recovery study of three rows."""

from pathlib import Path

PROTOCOL = """\
# Constructed for tests.
format: 1
id: SMALL-01
edition: 1
title: Recovery of three portions, constructed
issued: 2031-03-03
origin: {data: invented, statement: constructed for tests}
laboratory: Fictional laboratory
people: {planned: A. Example, approved: B. Example}
purpose: verification
intended_use: quantitative
method: {measurand: ochratoxin A, matrix: green coffee, unit: µg/kg}
use: eu-2023-2782
studies:
  recovery:
    kind: recovery
    data: {file: recovery.csv}
    design: {levels: [5], replicates: 3}
    contamination: spiked before extraction
    accept:
      mean_recovery: {per: level}
      rsd_r: {per: level}
"""
TABLE = "sample,added,found\nR-1,5,4.6\nR-2,5,4.9\nR-3,5,4.4\n"


def write_small(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "protocol.yaml").write_text(PROTOCOL, encoding="utf-8")
    (folder / "recovery.csv").write_text(TABLE, encoding="utf-8")
    return folder
