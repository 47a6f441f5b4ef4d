"""The columns of a collaborative trial's table, by its design."""

from __future__ import annotations

from validate.studies.collaborative_trial.settings import BINARY, SPLIT, CollaborativeTrialSettings
from validate.tables.table import Column

LABORATORY = Column(role="laboratory", title="code of the laboratory", type="label")
LEVEL = Column(role="level", title="declared level of the material", type="level", unit="method", minimum=0)
RUN = Column(role="run", title="run (batch, day) within the laboratory", type="label")
REPLICATE = Column(role="replicate", title="number of the result in its cell", type="label", required=False)
SAMPLE = Column(role="sample", title="which of the two samples of a split level", type="label")
RESULT = Column(role="result", title="result as reported", type="number", unit="method", censored=True)
POSITIVE = Column(
    role="positive", title="results in which the analyte was detected", type="number", unit="1", minimum=0
)
TOTAL = Column(
    role="total",
    title="number of results; 1 for each row when absent",
    type="number",
    unit="1",
    required=False,
    minimum=0,
)
COLUMNS = (LABORATORY, LEVEL, REPLICATE, RESULT)


def columns_of(settings: CollaborativeTrialSettings) -> tuple[Column, ...]:
    """The columns of this protocol's table."""
    if settings.design.kind == BINARY:
        return (LABORATORY, LEVEL, REPLICATE, POSITIVE, TOTAL)
    if settings.design.kind == SPLIT:
        return (LABORATORY, LEVEL, SAMPLE, RESULT)
    run = () if settings.design.runs is None else (RUN,)
    return (LABORATORY, LEVEL, *run, REPLICATE, RESULT)
