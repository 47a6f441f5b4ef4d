"""Each part of the page prints what it printed before.

After an intended change write the snapshots anew and read their difference:

    UPDATE_SNAPSHOTS=1 python -m pytest tests/dossier/test_snapshots.py
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.dossier.sample import inputs, requirements, sample
from tests.dossier.sample_study import SECTION, study
from validate.dossier.html import compose

FOLDER = Path(__file__).with_name("snapshots")
PARTS = ("front", "requirements", "treatment", "readiness", "limits", "working", "records")
MACROS = {
    "design": "{{ parts.design(study) }}",
    "varied": "{{ parts.varied(study) }}",
    "findings": "{{ parts.findings(study, ['rsd_r', 'levels_met']) }}",
    "tables": "{{ parts.tables(study) }}",
    "criteria": "{{ parts.criteria(study, requirements) }}",
    "remarks": "{{ parts.remarks(study) }}",
    "study-limits": "{{ parts.limits(study) }}{{ parts.note('A note.') }}",
}


@pytest.mark.parametrize("name", PARTS)
def test_a_part_of_the_page(name: str) -> None:
    environment, page = compose(sample(), inputs(), {"recovery": SECTION})
    parts = environment.get_template("parts.html").module
    compare(name, environment.get_template(f"{name}.html").render(page=page, parts=parts))


@pytest.mark.parametrize("name", MACROS)
def test_a_macro_for_sections(name: str) -> None:
    environment, _ = compose(sample(), inputs(), {"recovery": ""})
    parts = environment.get_template("parts.html").module
    spread_at_1_and_5 = tuple(r for r in requirements() if r.criterion.finding == "rsd_r" and r.criterion.level in "15")
    text = environment.from_string(MACROS[name]).render(study=study(), requirements=spread_at_1_and_5, parts=parts)
    compare(f"macro-{name}", text)


def compare(name: str, text: str) -> None:
    path = FOLDER / f"{name}.html"
    lines = "\n".join(line.rstrip() for line in text.splitlines() if line.strip()) + "\n"
    if os.environ.get("UPDATE_SNAPSHOTS"):
        FOLDER.mkdir(exist_ok=True)
        path.write_text(lines, encoding="utf-8")
    assert lines == path.read_text(encoding="utf-8")
