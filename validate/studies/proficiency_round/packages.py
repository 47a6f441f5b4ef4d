"""What a round gives out: all scores as tables, the coded report, and a page for each laboratory.

A laboratory's page holds its own results alone. Of the others it holds counts: a histogram,
and how many lie nearer to the assigned value.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from validate.studies.contract import PackageInput
from validate.studies.proficiency_round.history import reduced
from validate.studies.proficiency_round.pictures import MOST_PICTURED, background
from validate.studies.proficiency_round.scoring import NOT_SCORED, QUESTIONABLE, SIGNAL_WORDS
from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.tables import SCORES
from validate.vocabulary.leaflet import Block, Extract, Facts, Form, Leaflet, MarkedPlot, Packages, Paragraphs
from validate.vocabulary.plot import Plot
from validate.vocabulary.result_table import ResultTable, TableColumn

Row = Sequence[str | float | None]
RESERVED = re.compile(r"con|prn|aux|nul|com[0-9]|lpt[0-9]", re.IGNORECASE)
"""Names that one operating system keeps for devices."""
ASKS = {
    0: "Nothing is asked for. A score within ±2 agrees with the assigned value as well as the scheme asks.",
    1: "A warning signal asks for a look: was the result transcribed, diluted and converted correctly; were the "
    "controls within limits? Two warning signals in a row count like an action signal (common practice, no source).",
    2: "An action signal asks for an investigation: find the cause, correct it, look which results for customers it "
    "touched, and show by a new measurement that it is gone. The form below takes what was found.",
    3: "A result without a number has no score. A limit that contradicts the assigned value asks for an investigation "
    "of the limit of quantification.",
}
FIELDS = (
    ("Date, name and function of the person who investigates", 2),
    ("Result as found in the raw data; transcription, calculation, unit and dilution checked", 3),
    ("Method, calibration, reagents and their expiry, controls of that day", 3),
    ("Kept portion of the sample: measured again, when, with what result", 3),
    ("Cause", 3),
    ("Correction, and results for customers that were touched", 3),
    ("How and when it was shown that the correction works", 2),
    ("Checked and approved by", 1),
)


def packages(job: PackageInput) -> Packages:
    """Leaflets of all laboratories with a result, in the order of their codes."""
    settings: ProficiencyRoundSettings = job.settings  # type: ignore[assignment]
    tables = {table.name: table for table in job.result.tables}
    scores = _lines(tables[SCORES])
    return Packages(
        leaflets=_leaflets(job, settings, tables, scores),
        tables=tuple(tables[name] for name in ("scores", "targets", "side-by-side", "methods") if name in tables),
        extract=_coded(job, settings, scores),
    )


def _coded(job: PackageInput, settings: ProficiencyRoundSettings, scores: list[dict[str, Any]]) -> Extract:
    """The report for all: what of the round's table, earlier rounds and treatments stays with the organiser."""
    codes = tuple(dict.fromkeys(str(line["laboratory"]) for line in scores))
    earlier = {name: reduced(content, codes) for name, content in job.files.items()}
    left = "columns that the round does not read"
    left += "" if settings.show_comments else ", the laboratories' comments"
    left += "" if settings.show_reasons else ", the reasons for corrections and exclusions"
    return Extract(
        folder="coded",
        mark=f"coded report, {settings.status}",
        leave=() if settings.show_comments else ("comment",),
        order_by="laboratory",
        reasons=settings.show_reasons,
        statement=f"Coded report for all laboratories: results stand in the order of codes; the organiser keeps "
        f"{left}.",
        files=earlier,
    )


def file_names(codes: Sequence[str]) -> dict[str, str]:
    """Code → a file name that is safe on every system and different from all others.

    Letters, digits and inner hyphens stay. A code that holds anything else, that names a device,
    or whose name differs from another only in capitals or not at all gets six digits of its hash
    behind it.
    """
    marked = {code for code in codes if _plain(code) != code or RESERVED.fullmatch(code)}
    while True:
        names = {code: _with_digits(code) if code in marked else code for code in codes}
        taken = Counter(name.casefold() for name in names.values())
        alike = {code for code, name in names.items() if taken[name.casefold()] > 1} - marked
        if not alike:
            return names
        marked |= alike


def _plain(code: str) -> str:
    return re.sub(r"[^A-Za-z0-9-]+", "-", code).strip("-")


def _with_digits(code: str) -> str:
    return f"{_plain(code) or 'code'}-{hashlib.sha256(code.encode()).hexdigest()[:6]}"


def _lines(table: ResultTable) -> list[dict[str, Any]]:
    titles = [column.title for column in table.columns]
    return [dict(zip(titles, row, strict=True)) for row in table.rows]


def _leaflets(
    job: PackageInput,
    settings: ProficiencyRoundSettings,
    tables: Mapping[str, ResultTable],
    scores: list[dict[str, Any]],
) -> list[Leaflet]:
    own: dict[str, list[dict[str, Any]]] = {}
    for line in scores:
        own.setdefault(str(line["laboratory"]), []).append(line)
    targets = {str(line["target"]): line for line in _lines(tables["targets"])}
    symbols = _classifying(job)
    pictures = _backgrounds(scores, targets, symbols)
    sizes = {name: sorted(abs(line[symbols[name]]) for line in scores if line["target"] == name
                          and line[symbols[name]] is not None) for name in targets}  # fmt: skip
    history, sums = _by_laboratory(tables.get("history")), _by_laboratory(tables.get("sums"))
    comments = _by_laboratory(tables.get("comments"))
    questions = _by_laboratory(tables.get("suspicions"))
    for code, rows in _by_laboratory(tables.get("uncertainties")).items():
        questions.setdefault(code, []).extend(rows)
    names = file_names(list(own))
    return [
        Leaflet(
            name=f"participants/{names[code]}",
            title=f"Results of laboratory {code}",
            lead=_lead(settings, lines),
            blocks=(
                *_facts(job, settings, code),
                _own_table(lines, targets, symbols),
                *_questions(questions.get(code, ())),
                *_position(lines, symbols, sizes),
                *_marked(lines, pictures, symbols),
                *_earlier("history", "Your scores in earlier rounds", tables, history.get(code, ())),
                *_earlier("sums", "Your earlier scores taken together", tables, sums.get(code, ())),
                *_said(comments.get(code, ())),
                *_asked(lines),
            ),
            end=f"End of the page of laboratory {code}",
        )
        for code, lines in own.items()
    ]


def _classifying(job: PackageInput) -> dict[str, str]:
    """Target → z or z′, as the overview says."""
    found = {}
    for table in job.result.tables:
        if table.name.startswith("overview"):
            for column in table.columns[1:]:
                name, _, symbol = column.title.rpartition(" (")
                found[name] = symbol.rstrip(")")
    return found


def _backgrounds(
    scores: list[dict[str, Any]], targets: Mapping[str, Any], symbols: Mapping[str, str]
) -> dict[str, Plot]:
    found = {}
    for name in list(targets)[:MOST_PICTURED]:
        values = tuple(line[symbols[name]] for line in scores if line["target"] == name)
        numbers = tuple(value for value in values if value is not None)
        if len(numbers) > 1:
            found[name] = background(name, numbers, symbols[name])
    return found


def _by_laboratory(table: ResultTable | None) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in table.rows if table else ():
        found.setdefault(str(row[0]), []).append(row)
    return found


def _lead(settings: ProficiencyRoundSettings, lines: list[dict[str, Any]]) -> tuple[str, ...]:
    counts = Counter(line["outcome"] for line in lines)
    told = [f"{word}: {counts[word]} of {len(lines)}." for word in SIGNAL_WORDS.values() if word and counts[word]]
    others = len(lines) - sum(counts[word] for word in SIGNAL_WORDS.values())
    if others:
        told.append(f"Without a score: {others} of {len(lines)}.")
    return (f"Round {settings.round}, {settings.status} report.", *(text[0].upper() + text[1:] for text in told))


def _facts(job: PackageInput, settings: ProficiencyRoundSettings, code: str) -> tuple[Block, ...]:
    pairs = [("Laboratory", code), ("Round", settings.round), ("Organiser", job.organiser),
             ("Measurand", ", ".join(settings.measurands) or job.method.measurand)]  # fmt: skip
    items = settings.items
    if items is not None:
        pairs += [("Items", items.preparation), ("Sent", str(items.sent or "")),
                  ("Results until", str(items.results_until or ""))]  # fmt: skip
    return (Facts(title="The round", pairs=tuple(pair for pair in pairs if pair[1])),)


def _own_table(lines: list[dict[str, Any]], targets: Mapping[str, Any], symbols: Mapping[str, str]) -> ResultTable:
    rows = [
        (line["target"], line["result"], line["U"], target["x_pt"], target["u(x_pt)"], target["σ_pt"], target["unit"],
         line["D"], line["D %"], line["z"], line["z′"], line["ζ"], line["E_n"], line["outcome"])
        for line in lines
        for target in [targets[str(line["target"])]]
    ]  # fmt: skip
    numbers = ("result", "U", "x_pt", "u(x_pt)", "σ_pt")
    columns = [TableColumn(title="target", kind="text"), *(TableColumn(title=t) for t in numbers),
               TableColumn(title="unit", kind="text"),
               *(TableColumn(title=t) for t in ("D", "D %", "z", "z′", "ζ", "E_n")),
               TableColumn(title="outcome", kind="text")]  # fmt: skip
    names = list(dict.fromkeys(str(line["target"]) for line in lines))
    used = ", ".join(f"{name} by {symbols[name]}" for name in names)
    return ResultTable(
        name="own", title="Your results and scores", columns=tuple(columns), rows=tuple(rows),
        note=f"Classified: {used}. Up to 2 acceptable, from 3 on an action signal, between them a warning signal; "
        f"z is this many times the SD that the scheme allows. ζ and E_n use your own uncertainty. "
        f"x_pt and σ_pt: {_set_by(targets, names)}",
    )  # fmt: skip


def _questions(rows: Sequence[Row]) -> tuple[Block, ...]:
    """What does not fit among the own results, as questions."""
    texts = tuple(f"{row[1]}: {row[2]}" for row in rows)
    return (Paragraphs(title="Questions to you", texts=texts),) if texts else ()


def _set_by(targets: Mapping[str, Any], names: Iterable[str]) -> str:
    """How x_pt and σ_pt came about; targets that were set alike are named together."""
    alike: dict[str, list[str]] = {}
    for name in names:
        alike.setdefault(str(targets[name]["set by"]), []).append(name)
    return "; ".join(f"{', '.join(same)}: {words}" for words, same in alike.items())


def _position(
    lines: list[dict[str, Any]], symbols: Mapping[str, str], sizes: Mapping[str, list[float]]
) -> tuple[Block, ...]:
    from bisect import bisect_left

    texts = []
    for line in lines:
        name = str(line["target"])
        score, all_sizes = line[symbols[name]], sizes[name]
        if score is not None:
            nearer = bisect_left(all_sizes, abs(score))
            texts.append(
                f"{name}: {nearer} of {len(all_sizes)} laboratories with a score lie nearer to the assigned value."
            )
    return (Paragraphs(title="Your position", texts=tuple(texts)),) if texts else ()


def _marked(lines: list[dict[str, Any]], pictures: Mapping[str, Plot], symbols: Mapping[str, str]) -> list[Block]:
    return [
        MarkedPlot(plot=pictures[name], at=line[symbols[name]])
        for line in lines
        for name in [str(line["target"])]
        if name in pictures
    ]


def _earlier(name: str, title: str, tables: Mapping[str, ResultTable], rows: Sequence[Row]) -> tuple[Block, ...]:
    """The own lines of a table of earlier scores."""
    if not rows:
        return ()
    own = tuple(tuple(row[1:]) for row in rows)
    return (ResultTable(name=name, title=title, columns=tables[name].columns[1:], rows=own, note=tables[name].note),)


def _said(rows: Sequence[Row]) -> tuple[Block, ...]:
    return (Paragraphs(title="Your comments", texts=tuple(str(row[1]) for row in rows)),) if rows else ()


def _asked(lines: list[dict[str, Any]]) -> tuple[Block, ...]:
    """What the strongest signal asks for; the form where something is to be investigated."""
    words = {word: kind for kind, word in SIGNAL_WORDS.items() if word}
    kinds = {words.get(str(line["outcome"]), 3) for line in lines}
    without = {str(line["outcome"]) for line in lines} - set(words)
    texts = [ASKS[kind] for kind in (2, 1, 3, 0) if kind in kinds and not (kind == 0 and len(kinds) > 1)]
    asked: list[Block] = [Paragraphs(title="What the signals ask for", texts=tuple(texts))]
    if kinds & {1, 2} or without - {NOT_SCORED, QUESTIONABLE}:
        text = "Fill in on screen or by hand; keep it with the records of the laboratory. It is not sent to anybody."
        asked.append(Form(title="Record of the investigation", text=text, fields=FIELDS))
    return tuple(asked)
