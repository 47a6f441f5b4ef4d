"""What a protocol says of the dossier that it supersedes."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, Field, model_serializer
from pydantic_core import PydanticKnownError

from validate.protocol.fields import RelativePath, Sentence
from validate.protocol.settings import Model

LONGEST_TITLE = 2_000


class Supersedes(Model):
    """The earlier dossier, with its files in the protocol's folder where changes are to be shown."""

    title: Sentence = Field(description="The protocol or dossier that this one replaces.")
    manifest: RelativePath | None = Field(
        default=None, description="Its manifest.json: a table that differs from it without an amendment is refused."
    )
    evaluation: RelativePath | None = Field(
        default=None, description="Its evaluation.json: changed findings and verdicts are listed."
    )
    reason: Sentence | None = Field(default=None, description="Why the dossier is issued again.")

    @model_serializer(mode="wrap")
    def _as_written(self, handler: Any) -> Any:
        """A bare sentence stays one."""
        plain = handler(self)
        return plain["title"] if self.model_fields_set == {"title"} else plain


def _sentence_alone(value: Any) -> Any:
    """A sentence alone is the title; one that is too long is told as a sentence, not as a group."""
    if isinstance(value, (dict, BaseModel)):
        return value
    if isinstance(value, str) and len(value.strip()) > LONGEST_TITLE:
        raise PydanticKnownError("string_too_long", {"max_length": LONGEST_TITLE})
    return {"title": value}


SupersedesOrTitle = Annotated[
    Supersedes, BeforeValidator(_sentence_alone, json_schema_input_type=Sentence | Supersedes)
]
