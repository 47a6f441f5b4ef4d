"""Find the kinds of study: every folder here that holds a `study.py`."""

from __future__ import annotations

from functools import lru_cache
from importlib import import_module
from pathlib import Path

from validate.studies.contract import Study

FOLDER = Path(__file__).parent


@lru_cache(maxsize=1)
def kinds() -> dict[str, Study]:
    """Kind → declaration, in alphabetical order."""
    names = sorted(path.parent.name for path in FOLDER.glob("*/study.py"))
    return {name: import_module(f"validate.studies.{name}.study").STUDY for name in names}


def section_template(kind: str) -> str:
    """The text of the section template of a kind."""
    return (FOLDER / kind / "section.html").read_text(encoding="utf-8")


def bench_template(kind: str) -> str:
    """The text of a kind's part of the bench sheet; empty for a kind without one."""
    return _text(kind, "bench.html")


def starter_text(kind: str) -> str:
    """One commented entry of `studies` to start from; empty for a kind without one."""
    return _text(kind, "starter.yaml")


def _text(kind: str, name: str) -> str:
    path = FOLDER / kind / name
    return path.read_text(encoding="utf-8") if path.is_file() else ""
