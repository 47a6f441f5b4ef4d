"""What stands in reports/ is what this version computes and renders."""

import json
import math
import re
from functools import cache
from pathlib import Path

import pytest

from tests.reports.render import kept_files, to_be_kept
from validate.pipeline import Rendered, evaluate, prepare, render
from validate.provenance.environment import environment_text

ROOT = Path(__file__).parents[2]
NAMES = sorted(path.parent.name for path in ROOT.glob("protocols/*/protocol.yaml"))
FILES = [(name, file) for name in NAMES for file in kept_files(name)]
PAGES = [(name, file) for name, file in FILES if file.endswith(".html")]
SAME_ENVIRONMENT = (ROOT / "reports" / "ENVIRONMENT").read_text("utf-8") == environment_text()


@cache
def rendered(name: str) -> Rendered:
    prepared = prepare(ROOT / "protocols" / name)
    return render(prepared, to_be_kept(evaluate(prepared)), with_pdf=False)


def kept(name: str, file: str) -> bytes:
    return (ROOT / "reports" / name / file).read_bytes()


def differences(kept_value, new_value, at="") -> list[str]:
    """Where two evaluations differ: numbers by more than 1e-9 relative, everything else at all."""
    if isinstance(kept_value, dict) and isinstance(new_value, dict):
        if kept_value.keys() != new_value.keys():
            return [f"{at}: keys {sorted(kept_value.keys() ^ new_value.keys())}"]
        return [d for key in kept_value for d in differences(kept_value[key], new_value[key], f"{at}/{key}")]
    if isinstance(kept_value, list) and isinstance(new_value, list):
        if len(kept_value) != len(new_value):
            return [f"{at}: {len(kept_value)} entries, now {len(new_value)}"]
        pairs = zip(kept_value, new_value, strict=True)
        return [d for i, (a, b) in enumerate(pairs) for d in differences(a, b, f"{at}/{i}")]
    if isinstance(kept_value, int | float) and isinstance(new_value, int | float):
        same = math.isclose(kept_value, new_value, rel_tol=1e-9, abs_tol=1e-12)
        return [] if same else [f"{at}: {kept_value!r}, now {new_value!r}"]
    return [] if kept_value == new_value else [f"{at}: {kept_value!r}, now {new_value!r}"]


@pytest.mark.parametrize("name", NAMES)
def test_evaluation_kept_in_reports_is_reproduced(name):
    assert (
        differences(json.loads(kept(name, "evaluation.json")), json.loads(rendered(name).files["evaluation.json"]))
        == []
    )


@pytest.mark.parametrize(("name", "file"), PAGES)
def test_text_of_a_kept_page_is_reproduced_everywhere(name, file):
    def words(html: bytes) -> list[str]:
        # Coordinates of drawings may differ in their last digits between machines.
        return re.sub(r"<(script|style|svg).*?</\1>|<[^>]*>", " ", html.decode(), flags=re.S).split()

    assert words(kept(name, file)) == words(rendered(name).files[file])


@pytest.mark.skipif(not SAME_ENVIRONMENT, reason="bytes are promised in the environment of reports/ENVIRONMENT only")
@pytest.mark.parametrize(("name", "file"), FILES)
def test_kept_files_are_the_same_bytes_in_the_same_environment(name, file):
    assert kept(name, file) == rendered(name).files[file]
