"""A first protocol: the head that every protocol has, and a commented entry for each kind of study.

A kind's `starter.yaml` is one entry of `studies`, written from the first column on: its
name, a colon, its keys. It fits the head of `templates/starter.yaml`: method unit mg/kg,
scope 1 to 50, limit 10, portion 10 g, display steps of 0.1; materials `standard` (solution of
1000 µg/mL), `certified` (19.5 mg/kg) and `blank sample`. It passes `check` without data
and without a notice.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from pathlib import Path
from textwrap import indent
from typing import get_args

from validate.protocol.model import Protocol
from validate.studies.contract import Study
from validate.vocabulary.place import Place
from validate.vocabulary.problem import InputRefused, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
HEAD = Path(__file__).with_name("templates") / "starter.yaml"
USUAL_PURPOSE = "validation"


def purposes() -> tuple[str, ...]:
    """The purposes that a protocol may have."""
    return get_args(Protocol.model_fields["purpose"].annotation)


def starter_protocol(name: str, kinds: Mapping[str, Study], starter_of: Callable[[str], str]) -> bytes:
    """The protocol for a kind of study, or for a purpose with every kind that it expects.

    A kind that needs findings of others brings those along. Raises InputRefused for a name
    that is neither, and where there is nothing to start from.
    """
    able = [kind for kind in kinds if starter_of(kind)]
    told = {"kinds": ", ".join(able), "purposes": ", ".join(purposes())}
    if name in kinds:
        if name not in able:
            raise _refused("kind-without-starter", name=name, **told)
        purpose, chosen = _purpose_of(kinds[name]), [name]
    elif name in purposes():
        purpose, chosen = name, [kind for kind in able if name in kinds[kind].expected_by]
        if not chosen:
            raise _refused("purpose-without-study", name=name, **told)
    else:
        close = difflib.get_close_matches(name, [*kinds, *purposes()], n=1)
        raise _refused("nothing-to-start", name=name, nearest=f"; did you mean {close[0]}?" if close else "", **told)
    wanted = _with_needs(chosen, kinds, able)
    studies = "\n".join(indent(starter_of(kind).strip("\n") + "\n", "  ") for kind in wanted)
    head = HEAD.read_text(encoding="utf-8")
    return head.replace("@PURPOSE@", purpose).replace("@STUDIES@\n", studies).encode("utf-8")


def _purpose_of(kind: Study) -> str:
    expected = kind.expected_by
    return USUAL_PURPOSE if USUAL_PURPOSE in expected or not expected else expected[0]


def _with_needs(chosen: list[str], kinds: Mapping[str, Study], able: list[str]) -> list[str]:
    """`chosen` and, before them, kinds that give what they cannot do without."""
    wanted: list[str] = []

    def add(name: str) -> None:
        for need in kinds[name].needs:
            givers = [kind for kind in able if kind != name and kinds[kind].finding(need.finding)]
            if need.required and givers and not {*givers} & {*wanted, *chosen}:
                add(givers[0])
        if name not in wanted:
            wanted.append(name)

    for name in chosen:
        add(name)
    return wanted


def _refused(code: str, **values: object) -> InputRefused:
    return InputRefused([PROBLEMS.problem(code, Place("validate new"), **values)])
