"""The catalogue of table problems and the code that reports them name the same problems."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import validate.tables.reading

ROOM = Path(validate.tables.reading.__file__).parent
KINDS = "cell|table|columns?|units|where|amendment|exclusion|file|label|more|sheet|workbook|treatment"
CODE = re.compile(rf'"((?:{KINDS})-[a-z-]+)"')


def test_every_problem_is_reported_somewhere_and_every_reported_one_is_described():
    catalogue = tomllib.loads((ROOM / "problems.toml").read_text(encoding="utf-8"))
    sources = "".join(path.read_text(encoding="utf-8") for path in sorted(ROOM.glob("*.py")))
    assert set(CODE.findall(sources)) == set(catalogue)


def test_every_error_says_how_to_mend_it():
    catalogue = tomllib.loads((ROOM / "problems.toml").read_text(encoding="utf-8"))
    told_by_its_first = {"more-of-the-same"}
    silent = {code for code, entry in catalogue.items() if not entry["mend"] and "severity" not in entry}
    assert silent == told_by_its_first
