"""A small dossier, rendered once."""

from pathlib import Path

import pytest

from tests.provenance.small import write_small
from validate.pipeline import evaluate, prepare, render


@pytest.fixture(scope="session")
def small(tmp_path_factory) -> dict[str, bytes]:
    """The five files of the small dossier."""
    prepared = prepare(write_small(tmp_path_factory.mktemp("small")))
    return dict(render(prepared, evaluate(prepared)).files)


@pytest.fixture
def pdf(small, tmp_path) -> Path:
    (tmp_path / "dossier.pdf").write_bytes(small["dossier.pdf"])
    return tmp_path / "dossier.pdf"


@pytest.fixture
def folder(small, tmp_path) -> Path:
    (tmp_path / "dossier").mkdir()
    for name, content in small.items():
        (tmp_path / "dossier" / name).write_bytes(content)
    return tmp_path / "dossier"
