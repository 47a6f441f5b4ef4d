"""The JSON Schema: editors accept what the loader accepts, and the file is current."""

import json
import re
from pathlib import Path

import jsonschema
import pytest
import yaml

import validate.protocol.schema as module
from validate.protocol.schema import protocol_schema, schema_text

SAMPLE = Path(__file__).parent / "sample.yaml"
BAD = Path(__file__).parent / "bad"


class _AsEditorsRead(yaml.SafeLoader):
    """YAML 1.2 core schema, as editors use it: no dates, `yes` is a text."""


_AsEditorsRead.yaml_implicit_resolvers = {}
for tag, pattern, first in (
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    _AsEditorsRead.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(rf"^(?:{pattern})$"), list(first))
_AsEditorsRead.add_constructor("tag:yaml.org,2002:int", lambda loader, node: int(loader.construct_scalar(node)))


def as_editors_read(text):
    value = yaml.load(text, Loader=_AsEditorsRead)
    return json.loads(json.dumps(value))  # keys are texts in JSON


@pytest.fixture(scope="module")
def validator(kinds):
    schema = protocol_schema(kinds)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_the_sample_with_every_key_is_valid(validator):
    assert [error.message for error in validator.iter_errors(as_editors_read(SAMPLE.read_text(encoding="utf-8")))] == []


def test_quoted_numbers_load_and_are_valid(validator, load):
    text = (
        SAMPLE.read_text(encoding="utf-8")
        .replace("value: 5,", 'value: "5",')
        .replace("replicates: 2", 'replicates: "2"')
    )
    assert load(text).problems == ()
    assert validator.is_valid(as_editors_read(text))


@pytest.mark.parametrize(
    "name", ["keys", "values", "studies", "no_study", "list_at_top", "text_at_top", "syntax_documents"]
)
def test_an_editor_sees_that_a_bad_protocol_is_bad(validator, name):
    text = (BAD / f"{name}.yaml").read_text(encoding="utf-8").split("\n---")[0]
    assert not validator.is_valid(as_editors_read(text))


@pytest.mark.parametrize(
    "change",
    [
        ("kind: grouped", "kind: spiked"),
        ("days: 6", "days: six"),
        ("recovery-in-coffee:", "Recovery in coffee:"),
        ("purpose: validation", "purpose: fun"),
        ("minimum_design: [eu-2023-2782]", "minimum_desing: [eu-2023-2782]"),
        ("issued: 2031-03-03\n", ""),
        ("between: [9.0, 11.0]", "between: [9.0]"),
        ("weigh: 20 g", "weigh: 20"),
    ],
    ids=lambda change: change[1] or "missing",
)
def test_what_the_loader_refuses_by_form_the_schema_refuses(validator, load, change):
    text = SAMPLE.read_text(encoding="utf-8").replace(*change, 1)
    assert load(text).protocol is None
    assert not validator.is_valid(as_editors_read(text))


def test_keys_have_descriptions_for_the_editor(kinds):
    schema = protocol_schema(kinds)
    studies = schema["properties"]["studies"]
    assert studies["additionalProperties"]["properties"]["kind"]["enum"] == ["grouped", "spiked"]
    bound = schema["$defs"]["Bound"]["properties"]
    assert [key for key, value in bound.items() if not value.get("description")] == []


def test_the_schema_does_not_depend_on_the_order_of_the_kinds(kinds):
    assert schema_text(kinds) == schema_text(dict(reversed(kinds.items())))


def test_the_file_in_the_package_is_current():
    """`validate schema > validate/protocol/schema.json` makes it anew."""
    from validate.studies.discovery import kinds as declared

    path = Path(module.__file__).with_name("schema.json")
    assert path.read_text(encoding="utf-8") == schema_text({name: kind.settings for name, kind in declared().items()})
