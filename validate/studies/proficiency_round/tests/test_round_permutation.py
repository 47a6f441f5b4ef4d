"""Codes are names and nothing more: another assignment of them permutes what is said, to the last digit."""

from __future__ import annotations

import json
import re
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from validate.dossier.leaflets import LeafletPress
from validate.pipeline import evaluate, prepare
from validate.studies.contract import PackageInput
from validate.studies.proficiency_round.packages import packages
from validate.studies.proficiency_round.tests.round_bench import written

CODES = tuple(f"{letters}{100 + 7 * i}" for i, letters in enumerate(
    ("QX", "KT", "MR", "ZB", "HN", "WD", "PF", "LC", "GV", "TS", "DJ", "RY", "BM", "XK", "CN", "FH")))  # fmt: skip
SETTINGS = """    samples: [A, B]
    assigned_value: {by: kernel mode, fallbacks: ['median, MADe']}
    sigma_pt: {by: prescribed, percent: 12, source: test}
    score: z prime
"""
CODE = re.compile("|".join(CODES))
FEW = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def lines() -> list[tuple[int, str]]:
    """Which laboratory, and the rest of its row: replicates, methods, uncertainties, limits, a blunder."""
    rng, rows = np.random.default_rng(20310303), []
    for i in range(len(CODES)):
        for sample, centre in (("A", 103.7), ("B", 211.9)):
            for replicate in (1, 2):
                x = centre * (1 + 0.09 * rng.standard_normal())
                x *= 10 if (i, sample) == (3, "A") else 1
                method = ("column", "plate", "")[i % 3]
                text, unit = (f"{x / 1000:.6f}", "mg/kg") if i == 5 else (f"{x:.3f}", "")
                text = "<20" if (i, sample) == (7, "B") else text
                U = f"{(0.1 + 0.02 * replicate) * centre:.2f}" if i % 2 else ""
                rows.append((i, f"{sample},{replicate},{text},{unit},{method},{U},2"))
    return rows


ROWS = lines()


def result(codes: tuple[str, ...], order: list[int]) -> Any:
    """The prepared and evaluated round in which laboratory i has the code codes[i]."""
    rows = [f"{codes[ROWS[k][0]]},{ROWS[k][1]}" for k in order]
    with tempfile.TemporaryDirectory() as scratch:
        head = "laboratory,sample,replicate,result,unit,method,uncertainty,k"
        prepared = prepare(written(Path(scratch), "\n".join([head, *rows]) + "\n", SETTINGS))
        return prepared, evaluate(prepared)


def renamed(text: str, new_names: dict[str, str]) -> str:
    return CODE.sub(lambda found: new_names[found[0]], text)


def said(evaluation: Any, names: dict[str, str], *, rows: bool) -> dict[str, Any]:
    """All that the study says, in an order that does not depend on codes, with `names` put in their place."""
    study = json.loads(renamed(json.dumps(asdict(evaluation.studies[0].as_reported), default=str), names))
    for finding in study["findings"] if not rows else ():
        del finding["rows"]
    for table in study["tables"]:
        table["rows"].sort(key=json.dumps)
    study["remarks"] = [sorted(re.findall(r"[^\s,:]+", json.dumps(each))) for each in study["remarks"]]
    for plot in study["plots"]:
        names_of_bars = plot["x"].pop("categories") or [""]
        for layer in plot["layers"]:
            if "mark" in layer or "width" in layer or len(layer.get("x", ())) == len(names_of_bars):
                bars = names_of_bars if len(names_of_bars) == len(layer["x"]) else [""] * len(layer["x"])
                x = [None] * len(layer["x"]) if bars is names_of_bars else layer["x"]
                layer["points"] = sorted(zip(bars, x, layer.pop("y"), strict=True))
                layer.pop("x")
    return study


KEPT = result(CODES, list(range(len(ROWS))))


@FEW
@given(st.permutations(CODES))
def test_a_permutation_of_codes_permutes_the_evaluation_and_nothing_else(codes):
    """Findings with their rows, intervals and workings, remarks, every table and every picture; exactly."""
    _, evaluation = result(tuple(codes), list(range(len(ROWS))))
    back = dict(zip(codes, CODES, strict=True))
    same = {code: code for code in CODES}
    assert said(evaluation, back, rows=True) == said(KEPT[1], same, rows=True)


@FEW
@given(st.permutations(range(len(ROWS))))
def test_the_order_of_rows_changes_the_references_to_rows_and_nothing_else(order):
    _, evaluation = result(CODES, order)
    same = {code: code for code in CODES}
    assert said(evaluation, same, rows=False) == said(KEPT[1], same, rows=False)


def pages(prepared: Any, evaluation: Any) -> dict[str, str]:
    study = evaluation.studies[0]
    made = packages(PackageInput(name="round", settings=prepared.protocol.studies["round"], method=prepared.method,
                                 result=study.as_reported, title="Round", organiser="Example"))  # fmt: skip
    press = LeafletPress(evaluation, "Round")
    return {leaflet.name.removeprefix("participants/"): press.html(leaflet).decode() for leaflet in made.leaflets}


@settings(FEW, max_examples=4)
@given(st.permutations(CODES))
def test_a_page_holds_the_same_bytes_under_another_code_but_for_the_code(codes):
    """Nothing on a page depends on which codes the others have."""
    before, after = pages(*KEPT), pages(*result(tuple(codes), list(range(len(ROWS)))))
    new_names = dict(zip(CODES, codes, strict=True))
    for code, page in before.items():
        assert renamed(page, new_names) == after[new_names[code]]
