"""The same input gives the same bytes, whatever the hash seed, time zone and locale."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROGRAM = """
import hashlib
from tests.dossier.sample import inputs, sample
from tests.dossier.sample_study import SECTION
from validate.dossier.html import render_html
from validate.dossier.pdf import render_pdf
html = render_html(sample(), inputs(), {"recovery": SECTION})
print(hashlib.sha256(html).hexdigest(), hashlib.sha256(render_pdf(html, sample())).hexdigest())
"""


def test_html_and_pdf_are_the_same_in_two_processes() -> None:
    first = hashes(PYTHONHASHSEED="1", TZ="Pacific/Auckland", LC_ALL="C")
    second = hashes(PYTHONHASHSEED="2", TZ="America/Lima", LC_ALL="C.UTF-8")
    assert first == second and len(first.split()) == 2


def hashes(**settings: str) -> str:
    environment = {**os.environ, **settings, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-c", PROGRAM], env=environment, cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
