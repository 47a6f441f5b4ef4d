"""The evaluation as pandas tables, for notebooks."""

from __future__ import annotations

import pandas as pd

from validate.vocabulary.evaluation import Evaluation
from validate.vocabulary.finding import finding_id


def findings(evaluation: Evaluation, *, as_recorded: bool = False) -> pd.DataFrame:
    """Findings indexed by id; `low` and `high` are the limits shown to the reader (95 %)."""
    rows = []
    for study in evaluation.studies:
        result = study.as_recorded if as_recorded else study.as_reported
        for finding in result.findings:
            shown = finding.interval("shown")
            rows.append(
                {
                    "id": finding_id(study.name, finding.name, finding.level),
                    "study": study.name,
                    "finding": finding.name,
                    "level": finding.level,
                    "value": finding.value,
                    "unit": finding.unit,
                    "low": shown.low if shown else None,
                    "high": shown.high if shown else None,
                    "n": finding.n,
                    "df": finding.df,
                    "groups": finding.groups,
                    "reason": finding.reason or "; ".join(finding.blocked),
                }
            )
    columns = ["id", "study", "finding", "level", "value", "unit", "low", "high", "n", "df", "groups", "reason"]
    return pd.DataFrame(rows, columns=columns).set_index("id")


def requirements(evaluation: Evaluation) -> pd.DataFrame:
    """Criteria indexed by finding id, with their verdicts."""
    rows = [
        {
            "id": requirement.criterion.id,
            "bound": requirement.criterion.wording,
            "judge_by": str(requirement.criterion.judge_by),
            "source": requirement.criterion.source,
            "verdict": str(requirement.as_reported.verdict),
            "as_recorded": str(requirement.as_recorded.verdict),
            "evidence": str(requirement.as_reported.evidence or ""),
            "reason": requirement.as_reported.reason,
        }
        for requirement in evaluation.requirements
    ]
    columns = ["id", "bound", "judge_by", "source", "verdict", "as_recorded", "evidence", "reason"]
    return pd.DataFrame(rows, columns=columns).set_index("id")
