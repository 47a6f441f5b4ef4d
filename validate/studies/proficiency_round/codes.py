"""What is wrong, or worth telling, in the codes of the laboratories: they become names of files."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterator, Sequence

from validate.studies.contract import CheckInput
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
MOST_TOLD = 20
LONGEST_CODE = 40


def problems_of_codes(job: CheckInput) -> Iterator[Problem]:
    """Codes that are too long, only one, names of persons, or in letters of another script."""
    codes = job.table.frame["laboratory"].drop_duplicates()
    for row, code in codes[codes.str.len() > LONGEST_CODE].head(MOST_TOLD).items():
        yield PROBLEMS.problem("round-long-code", job.cell(row, "laboratory"), laboratory=code, most=LONGEST_CODE)
    if len(codes) == 1:
        yield PROBLEMS.problem("round-one-laboratory", job.cell(codes.index[0], "laboratory"), laboratory=codes.iloc[0])
    named = codes[codes.str.contains(r"[@\s]") & ~codes.str.contains(r"[0-9]")]
    for row, code in named.head(MOST_TOLD).items():
        yield PROBLEMS.problem("round-code-is-a-name", job.cell(row, "laboratory"), laboratory=code)
    odd = odd_scripts(codes.tolist())
    for row, code in codes[codes.isin(odd)].head(MOST_TOLD).items():
        values = {"laboratory": code, "script": odd[code]}
        yield PROBLEMS.problem("round-code-script", job.cell(row, "laboratory"), **values)


def odd_scripts(codes: Sequence[str]) -> dict[str, str]:
    """Code → the scripts of its letters, where they are not the script that most codes are written in.

    A Cyrillic А looks like a Latin A; the letters' names in the Unicode standard begin with their script.
    """
    scripts = {code: " and ".join(_scripts(code)) for code in codes}
    usual = Counter(filter(None, scripts.values())).most_common(1)
    return {code: found for code, found in scripts.items() if found and found != usual[0][0]}


def _scripts(code: str) -> list[str]:
    return sorted({unicodedata.name(sign, "unnamed").split()[0].capitalize() for sign in code if sign.isalpha()})
