"""evaluation.json: the evaluation as bytes and back."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from validate.provenance.canonical import canonical_json
from validate.vocabulary.evaluation import Evaluation


def evaluation_bytes(evaluation: Evaluation) -> bytes:
    """The canonical bytes of evaluation.json."""
    return canonical_json(_adapter().dump_python(evaluation, mode="json"))


def read_evaluation(content: bytes) -> Evaluation:
    """The evaluation in `content`; pydantic's ValidationError when it is not one of format 1."""
    return _adapter().validate_json(content)


@lru_cache(maxsize=1)
def _adapter() -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(Evaluation)
