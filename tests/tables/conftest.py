"""A table with every type of column, read from bytes."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from validate.protocol.settings import AmendmentSettings, DataSource, ExclusionSettings
from validate.tables.reading import TableReading, read_table
from validate.tables.table import Column
from validate.vocabulary.place import Place

COLUMNS = (
    Column(role="sample", title="number of the test portion", type="label", identifies=True),
    Column(role="added", title="level of the sample", type="level", unit="method", minimum=0),
    Column(role="found", title="result as read", type="number", unit="method", minimum=0, censored=True),
    Column(role="mass", title="mass of the test portion", type="number", unit="g", minimum=0, required=False),
    Column(role="day", title="day of measurement", type="label", required=False),
    Column(role="read_on", title="date of reading", type="date", required=False),
)


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., TableReading]:
    """`read(b"sample,…")` reads the bytes as r.csv of an invented protocol p.yaml."""

    def reading(
        content: bytes, *, amendments=(), exclusions=(), asked=COLUMNS, marks=None, file="r.csv", **source
    ) -> TableReading:
        (tmp_path / file).write_bytes(content)
        return read_table(
            tmp_path,
            DataSource(file=file, **source),
            asked,
            method_unit="µg/kg",
            shown_folder="protocols/invented",
            source_place=lambda *keys: Place("p.yaml", 7, len(keys)),
            amendments=[(treatment(AmendmentSettings, a), Place("p.yaml", 100 + i)) for i, a in enumerate(amendments)],
            exclusions=[(treatment(ExclusionSettings, e), Place("p.yaml", 200 + i)) for i, e in enumerate(exclusions)],
            marks=marks,
        )

    return reading


@pytest.fixture
def read_workbook(read: Callable[..., TableReading]) -> Callable[..., TableReading]:
    """`read_workbook(workbook)` reads an openpyxl workbook, or bytes, as r.xlsx."""

    def reading(workbook: object, **options) -> TableReading:
        return read(workbook if isinstance(workbook, bytes) else saved(workbook), file="r.xlsx", **options)

    return reading


def saved(workbook: object) -> bytes:
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def treatment(kind: type, keys: dict) -> object:
    return kind(data="r.csv", by="A. Example", on="2031-03-09", reason="invented", **keys)
