"""A dossier that an earlier version rendered recomputes with this one: the promise of DEVELOPERS.md, part 9."""

from pathlib import Path

import pytest

from validate.cli import main

KEPT = sorted((Path(__file__).parents[1] / "data" / "dossiers").glob("*.pdf"))


def test_a_dossier_of_every_format_is_kept():
    assert {path.name.split("-")[1] for path in KEPT} == {"1"}


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.stem)
def test_a_kept_dossier_recomputes_to_what_it_says(path, capsys):
    code = main(["recompute", str(path)])
    told = capsys.readouterr()
    assert code == 0, told.out + told.err
    assert "recomputes to what it says" in told.out
