"""The hash of a design holds what was fixed before the bench, by its meaning."""

import pytest

from validate.protocol.loading import load_protocol
from validate.provenance.design import design_hash
from validate.studies.discovery import kinds

TEXT = """\
format: 1
id: DH-1
title: Constructed protocol
issued: 2031-03-03
laboratory: A fictional laboratory
purpose: validation
intended_use: quantitative
method: {measurand: a, matrix: b, unit: µg/kg}
studies:
  recovery:
    kind: recovery
    design: {levels: [1, 5], replicates: 6}
    contamination: spiked before extraction
"""


def hash_of(folder, text: str) -> str:
    (folder / "protocol.yaml").write_text(text, "utf-8")
    loaded = load_protocol(folder, {name: kind.settings for name, kind in kinds().items()})
    assert loaded.protocol is not None, loaded.problems
    return design_hash(loaded.protocol)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("    design:", "    data: {file: r.csv}\n    design:"),
        ("studies:", "runs: runs.csv\npeople: {measured: M. Vale}\norigin: {data: invented}\nstudies:"),
        ("levels: [1, 5], replicates: 6}", "replicates: 6, levels: [1.0, 5]}   # a comment"),
        (
            "studies:",
            "exclusions: [{data: r.csv, where: {sample: 1}, by: A, on: 2031-03-04, reason: ran dry}]\nstudies:",
        ),
    ],
    ids=["data", "records", "spelling", "exclusions"],
)
def test_what_comes_after_the_bench_and_how_it_is_spelled_changes_nothing(tmp_path, old, new):
    assert hash_of(tmp_path, TEXT.replace(old, new, 1)) == hash_of(tmp_path, TEXT)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("levels: [1, 5]", "levels: [1, 6]"),
        ("replicates: 6", "replicates: 7"),
        ("title: C", "title: Another c"),
        ("studies:", "use: eu-2023-2782\nstudies:"),
        ("format: 1", "format: 1\nedition: 2"),
    ],
)
def test_a_change_of_the_design_changes_it(tmp_path, old, new):
    assert hash_of(tmp_path, TEXT.replace(old, new, 1)) != hash_of(tmp_path, TEXT)
