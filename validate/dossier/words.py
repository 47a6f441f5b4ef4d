"""Findings, criteria and tables of an evaluation as printable views: the filters of the templates."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from validate.dossier import numbers
from validate.dossier.context import (
    CellView,
    ColumnView,
    CriterionView,
    DataRows,
    FindingGroup,
    FindingRow,
    Pair,
    TableView,
    WorkingView,
)
from validate.dossier.criterion_groups import criterion_groups
from validate.dossier.formula import symbols, unbroken
from validate.dossier.workings import rows_of_levels, with_working, workings
from validate.vocabulary.evaluation import (
    Criterion,
    Evaluation,
    Judgement,
    Remark,
    Requirement,
    ResultTable,
    StudyEvaluation,
)
from validate.vocabulary.finding import COUNTED, Finding, FindingKind, finding_id
from validate.vocabulary.plot import Line, Plot, Rule
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict

MOST_TABLE_ROWS = 300
MOST_NARROW_COLUMNS = 7
VERDICT_WORDS = {Verdict.MET: "met", Verdict.NOT_MET: "not met", Verdict.NOT_SHOWN: "not shown"}
EVIDENCE_WORDS = {Evidence.FIRM: "firm", Evidence.LIMIT_WITHIN_INTERVAL: "limit within interval"}
REMARK_WORDS = {"note": "Note.", "flag": "Flagged.", "warning": "Warning."}
KIND_WORDS = {"criterion": "Criterion", "claim": "Claim"}


def anchor_text(text: str) -> str:
    """`text` as part of an id: letters, digits, - and _ stay, everything else becomes its code."""
    return re.sub(r"[^A-Za-z0-9_-]", lambda match: f".{ord(match[0]):x}.", text)


def study_anchor(study: str) -> str:
    """Anchor of a study's section."""
    return f"study-{anchor_text(study)}"


def file_anchor(name: str) -> str:
    """Anchor of the listing of a file; of a workbook that of its first sheet."""
    return f"file-{anchor_text(name.partition('!')[0])}"


def finding_anchor(study: str, name: str, level: str | None, prefix: str = "finding") -> str:
    """Anchor of a finding; with another prefix of its working or its criterion."""
    return f"{prefix}-{anchor_text(finding_id(study, name, level))}"


def plot_anchor(plot: Plot, study: StudyEvaluation) -> str:
    """Anchor of a picture, also the prefix of every id inside its SVG."""
    return f"plot-{anchor_text(study.name)}-{anchor_text(plot.name)}"


def slug(text: object) -> str:
    """`not met` as `not-met`."""
    return anchor_text(str(text).replace(" ", "-"))


class Words:
    """The views of one evaluation. Nothing is computed here; numbers are rounded for print."""

    def __init__(self, evaluation: Evaluation, drawing: Callable[[Plot, str, Sequence[Rule | Line]], Any]) -> None:
        self.evaluation = evaluation
        self.unit = str(evaluation.protocol.get("method", {}).get("unit", ""))
        self._drawing = drawing
        self._studies = {study.name: study for study in evaluation.studies}
        self._bounds: dict[str, list[float | None]] = {}
        for item in evaluation.requirements:
            self._bounds.setdefault(item.criterion.id, []).extend([item.criterion.low, item.criterion.high])

    def filters(self) -> dict[str, Callable[..., Any]]:
        """Name → filter, as documented at the top of parts.html."""
        return {
            "number": lambda value, digits=numbers.SIGNIFICANT: (
                "" if value is None else numbers.significant(value, digits)
            ),
            "figure": self.figure,
            "limits": self.limits,
            "symbols": symbols,
            "unbroken": lambda text: unbroken(str(text), self.unit),
            "slug": slug,
            "verdict_word": lambda verdict: VERDICT_WORDS[Verdict(verdict)],
            "evidence_word": lambda evidence: EVIDENCE_WORDS[Evidence(evidence)],
            "remark_word": lambda kind: REMARK_WORDS[kind],
            "finding_groups": self.finding_groups,
            "treated": is_treated,
            "criterion_groups": lambda requirements: criterion_groups(self.criterion_views(requirements)),
            "workings": self.workings,
            "remarks_of": remarks_of,
            "table_view": table_view,
            "plot_anchor": plot_anchor,
            "draw": lambda plot, study: self._drawing(plot, plot_anchor(plot, study), self._limits_on(plot, study)),
        }

    def draw_alone(self, plot: Plot, prefix: str) -> Any:
        """A picture that belongs to no study."""
        return self._drawing(plot, prefix, ())

    def _limits_on(self, plot: Plot, study: StudyEvaluation) -> list[Rule | Line]:
        """The bounds of the finding that the plot names: a rule across, or a step at each level where they differ."""
        criteria = [
            item.criterion
            for item in self.evaluation.requirements
            if plot.criterion_of and (item.criterion.study, item.criterion.finding) == (study.name, plot.criterion_of)
        ]
        limits: list[Rule | Line] = []
        for words, ends in (("at least", [(c, c.low) for c in criteria]), ("at most", [(c, c.high) for c in criteria])):
            given = [(criterion, end) for criterion, end in ends if end is not None]
            values = list(dict.fromkeys(end for _, end in given))
            if len(values) == 1:
                text = numbers.with_unit(numbers.significant(values[0], 3), given[0][0].unit)
                limits.append(Rule(at=values[0], label=f"{words} {text}"))
            elif plot.x.categories:
                steps = [step_at(plot, criterion, end) for criterion, end in given]
                limits += [step for step in steps if step is not None]
        return limits

    def level(self, level: str | None) -> str:
        """A level with the method's unit; a level that is a name as it is; `all` for a finding of the whole study."""
        if level is None or not re.fullmatch(r"-?[0-9.]+", level):
            return level or "all"
        return numbers.with_unit(level.replace("-", numbers.MINUS), self.unit)

    def figure(self, finding: Finding, study: str = "") -> str:
        """Value to the place of its 95 % interval; three significant digits without one."""
        return self._texts(finding, study)[0]

    def limits(self, finding: Finding, study: str = "") -> str:
        """`84.1 to 97.3`, `above 84.1`, or a dash; a count, whose limits are itself, has a dash too."""
        shown = finding.interval("shown")
        if shown is not None and shown.method == COUNTED:
            return numbers.EN_DASH
        _, low, high = self._texts(finding, study)
        if low and high:
            return f"{low} to {high}"
        return f"above {low}" if low else f"below {high}" if high else numbers.EN_DASH

    def figure_with_unit(self, finding: Finding | None, study: str) -> str:
        if finding is None:
            return numbers.EN_DASH
        return "not computed" if finding.value is None else numbers.with_unit(self.figure(finding, study), finding.unit)

    def _texts(self, finding: Finding, study: str) -> tuple[str, str, str]:
        if finding.value is None:
            return numbers.EN_DASH, "", ""
        interval = finding.interval("shown")
        bounds = self._bounds.get(finding_id(study, finding.name, finding.level), [])
        if interval is None or (interval.low is None and interval.high is None):
            return numbers.alone(finding.value, bounds), "", ""
        return numbers.beside_interval(finding.value, interval.low, interval.high, bounds)

    def finding_groups(self, study: StudyEvaluation, names: Sequence[str] | None = None) -> list[FindingGroup]:
        """The findings as reported, level by level under each name."""
        order = names if names is not None else list(dict.fromkeys(f.name for f in study.as_reported.findings))
        treated = is_treated(study)
        groups = []
        for name in order:
            found = [f for f in study.as_reported.findings if f.name == name]
            if not found:
                continue
            kind = kind_of(study, name)
            groups.append(
                FindingGroup(
                    title=kind.title,
                    symbol="" if kind.title.startswith(f"{kind.symbol},") else kind.symbol,
                    unit=next((f.unit for f in found if f.unit not in ("", "1")), ""),
                    columns=7 if treated else 6,
                    note_columns=6 if treated else 5,
                    rows=tuple(self._finding_row(study, f, treated) for f in found),
                )
            )
        return groups

    def _finding_row(self, study: StudyEvaluation, finding: Finding, treated: bool) -> FindingRow:
        recorded = study.as_recorded.finding(finding.name, finding.level)
        return FindingRow(
            anchor=finding_anchor(study.name, finding.name, finding.level),
            level=self.level(finding.level),
            value=self.figure(finding, study.name),
            limits=self.limits(finding, study.name),
            n=numbers.whole(finding.n),
            df=numbers.whole(finding.df),
            recorded=self._recorded_text(study, recorded, finding) if treated else "",
            missing=(finding.reason or "no reason recorded") if finding.value is None else "",
            working_anchor=finding_anchor(study.name, finding.name, finding.level, "working")
            if finding.working
            else "",
            notes=(*(f"No verdict: {text}." for text in finding.blocked), *finding.notes),
            data=tuple(
                # A sheet is found by its name; the link alone leads to the file.
                DataRows(file_anchor(rows.file), rows.file, rows.ranges, f"data: {rows.file}, rows {rows.ranges}")
                for rows in finding.rows
            ),
        )

    def _recorded_text(self, study: StudyEvaluation, recorded: Finding | None, reported: Finding) -> str:
        if recorded is None or recorded.value is None:
            return "not computed"
        return "same" if recorded.value == reported.value else self.figure(recorded, study.name)

    def criterion_views(self, requirements: Iterable[Requirement]) -> list[CriterionView]:
        """Criteria with their judgements in words; two sets may judge one figure, each under its own anchor."""
        seen: Counter[str] = Counter()
        views = []
        for item in requirements:
            criterion = item.criterion
            anchor = finding_anchor(criterion.study, criterion.finding, criterion.level, criterion.kind)
            seen[anchor] += 1
            views.append(self._criterion_view(item, anchor if seen[anchor] == 1 else f"{anchor}..{seen[anchor]}"))
        return views

    def _criterion_view(self, item: Requirement, anchor: str) -> CriterionView:
        criterion, judgement = item.criterion, item.as_reported
        study = self._studies.get(criterion.study)
        finding = study.as_reported.finding(criterion.finding, criterion.level) if study else None
        kind = kind_of(study, criterion.finding) if study else None
        return CriterionView(
            anchor=anchor,
            title=kind.title if kind else criterion.finding,
            level="" if criterion.level is None else self.level(criterion.level),
            kind=KIND_WORDS[criterion.kind],
            wording=criterion.wording,
            found=self.figure_with_unit(finding, criterion.study) if finding else "",
            limits=self.limits(finding, criterion.study) if finding else numbers.EN_DASH,
            finding_anchor=finding_anchor(criterion.study, criterion.finding, criterion.level) if finding else "",
            judged_by="Judged by the estimate."
            if criterion.judge_by is JudgeBy.ESTIMATE
            else "Judged by the interval.",
            judgement=judgement,
            exception=exception_sentence(criterion, judgement),
            recorded_sentence=recorded_sentence(item),
            source=source_line(criterion),
            source_in_table=("Claim: " if criterion.kind == "claim" else "") + source_line(criterion),
            criterion=criterion,
            chances=judgement.worth,
        )

    def workings(self, study: StudyEvaluation, names: Sequence[str] | None = None) -> list[WorkingView]:
        """The workings of a study's findings as reported; levels that share a formula stand under it."""
        return workings(
            with_working(study, names),
            {kind.name: kind for kind in study.kinds_of_finding},
            lambda finding, prefix: finding_anchor(study.name, finding.name, finding.level, prefix),
            self.level,
            rows_of_levels(with_working(study)),
        )

    def working_rows(self, study: StudyEvaluation) -> list[Pair]:
        """For each level the rows of the table that its figures came from."""
        return [Pair(self.level(level), text) for level, text in rows_of_levels(with_working(study)).items()]


def kind_of(study: StudyEvaluation, name: str) -> FindingKind:
    """The declaration of a finding; KeyError when the study did not declare it."""
    return {kind.name: kind for kind in study.kinds_of_finding}[name]


def is_treated(study: StudyEvaluation) -> bool:
    """Whether amendments or exclusions changed any figure of the study."""
    return study.as_reported.findings != study.as_recorded.findings


def exception_sentence(criterion: Criterion, judgement: Judgement) -> str:
    """The wider bound of a conditional criterion and whether it was used."""
    if criterion.exception is None:
        return ""
    used = "Used here." if judgement.used_exception else "Not used here."
    return f"Wider bound: {criterion.exception.wording}. {used}"


def recorded_sentence(item: Requirement) -> str:
    """Told only when treatment of the data changed the verdict."""
    before, after = item.as_recorded.verdict, item.as_reported.verdict
    if before is after:
        return ""
    return f"As recorded: {VERDICT_WORDS[before]}."


def source_line(criterion: Criterion) -> str:
    """Source, edition and clause in one line."""
    return ", ".join(part for part in (criterion.source, criterion.edition, criterion.clause) if part)


def step_at(plot: Plot, criterion: Criterion, end: float) -> Line | None:
    """A short limit at the category that is the criterion's level; None when the plot has no such category."""
    places = [i for i, name in enumerate(plot.x.categories, start=1) if name.split(" ")[0] == criterion.level]
    return Line(x=(places[0] - 0.4, places[0] + 0.4), y=(end, end), style="dashed", accent=True) if places else None


def remarks_of(study: StudyEvaluation, kinds: Sequence[str] | None = None) -> list[Remark]:
    return [r for r in study.as_reported.remarks if kinds is None or r.kind in kinds]


def table_view(table: ResultTable) -> TableView:
    """A table as text, at most 300 rows: the first and the last when it has more."""
    rows, left_out = table.rows, ""
    if len(rows) > MOST_TABLE_ROWS:
        half = MOST_TABLE_ROWS // 2
        left_out = (
            f"Rows {half + 1} to {len(rows) - half} of {len(rows)} are not printed; evaluation.json holds them all."
        )
        rows = rows[:half] + rows[-half:]
    columns = tuple(ColumnView(c.title, c.unit, c.kind == "number") for c in table.columns)
    texts = [_column_texts([row[i] for row in rows]) for i in range(len(columns))]
    return TableView(
        wide=len(columns) > MOST_NARROW_COLUMNS,
        columns=columns,
        rows=tuple(
            tuple(CellView(text, columns[i].numeric, header=i == 0) for i, text in enumerate(row))
            for row in zip(*texts, strict=True)
        ),
        left_out=left_out,
    )


def _column_texts(values: Sequence[str | float | None]) -> list[str]:
    """Texts stay as they are; the numbers among them are rounded together."""
    shown = iter(numbers.column([value for value in values if not isinstance(value, str)]))
    return [value if isinstance(value, str) else next(shown) for value in values]
