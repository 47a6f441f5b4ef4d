"""The portion chain as printable views: steps, sentences, figures with their working."""

from __future__ import annotations

from validate.dossier import numbers
from validate.dossier.context import SymbolView
from validate.dossier.formula import filled, symbolic
from validate.dossier.portion_context import PortionFigureView, PortionView
from validate.vocabulary.portion import PortionFigure, PortionResult, PortionRows
from validate.vocabulary.result_table import ResultTable, TableColumn

DIGITS = numbers.CALCULATOR - 2


def portion_view(result: PortionResult) -> PortionView:
    """Everything that is printed of the portion."""
    return PortionView(
        sentences=result.sentences,
        steps=_steps(result),
        figures=tuple(_figure(figure) for figure in result.figures),
        rows=tuple(_rows(rows) for rows in result.rows),
    )


def _steps(result: PortionResult) -> ResultTable:
    toleranced = any(step.tolerance for step in result.steps)
    with_content = any(step.content is not None for step in result.steps)
    columns = [TableColumn(title="Step", kind="text"), TableColumn(title="Mass or volume", kind="text")]
    columns += [TableColumn(title="Sample in 1 mL after it", unit=result.unit)] if with_content else []
    columns += [TableColumn(title="Tolerance ±", kind="text")] if toleranced else []
    columns += [TableColumn(title="Part in u of the factor", unit="%")] if toleranced and result.figures else []
    rows = []
    for step in result.steps:
        row: list[str | float | None] = [step.title, step.quantity]
        row += [step.content] if with_content else []
        row += [step.tolerance or "not stated"] if toleranced else []
        row += [step.u_percent] if toleranced and result.figures else []
        rows.append(tuple(row))
    title = "Steps from the test portion to what is read"
    return ResultTable(name="portion", title=title, columns=tuple(columns), rows=tuple(rows))


def _figure(figure: PortionFigure) -> PortionFigureView:
    return PortionFigureView(
        title=figure.title,
        symbol=figure.symbol,
        formula=symbolic(figure.working),
        filled=filled(figure.working),
        value=numbers.significant(figure.value, DIGITS),
        unit=figure.unit,
        symbols=tuple(
            SymbolView(s.printed, s.meaning, "" if s.unit == "1" else s.unit, value="") for s in figure.working.symbols
        ),
        words=figure.formula,
        source=figure.source,
    )


def _rows(rows: PortionRows) -> str:
    differing = f" Rows {rows.differing.replace('-', numbers.EN_DASH)}." if rows.differing else ""
    return rows.sentence + differing
