"""The portion as evaluated: steps, figures with their working, sentences."""

from __future__ import annotations

from collections.abc import Sequence

from validate.portion.chain import TITLES, chain_of, unit_of
from validate.protocol.model import Portion
from validate.stats.portion import Chain, Path, Represented, represented
from validate.vocabulary.finding import Symbol, Working
from validate.vocabulary.portion import PortionFigure, PortionResult, PortionRows, PortionStep

PRACTICE = "arithmetic of volumes, common practice, no source"
GUM = "GUM (JCGM 100:2008) 4.3.7, 4.3.9, 5.1.2 and 5.1.6 (clauses from memory)"


def portion_result(portion: Portion, rows: Sequence[PortionRows] = ()) -> PortionResult:
    """What the chain of the protocol comes to. ValueError when it cannot be (see `impossible_steps`)."""
    chain, unit = chain_of(portion), unit_of(portion.weigh)
    made = represented(chain)
    figures = () if made is None else tuple(_figures(chain, made, unit))
    return PortionResult(
        unit=unit,
        steps=tuple(_step(portion, chain, made, path) for path, _ in chain.steps()),
        figures=figures,
        sentences=tuple(_sentences(portion, chain, made, unit)),
        rows=tuple(rows),
    )


def _step(portion: Portion, chain: Chain, made: Represented | None, path: Path) -> PortionStep:
    tolerance = portion.tolerances and _at(portion.tolerances, path)
    part = next((part for own, _, part in made.shares if own == path), None) if made else None
    return PortionStep(
        key=_key(path),
        title=TITLES[str(path[-1])] + (f", dilution {path[1] + 1}" if len(chain.dilute) > 1 and len(path) > 1 else ""),
        quantity=_at(portion, path).text,
        tolerance=tolerance.text if tolerance else "",
        content=_content(made, path),
        u_percent=None if part is None else 100 * part,
    )


def _at(holder: object, path: Path) -> object | None:
    for key in path:
        holder = getattr(holder, key, None) if isinstance(key, str) else next(iter(holder[key : key + 1]), None)
    return holder


def _key(path: Path) -> str:
    return ".".join(str(key + 1) if isinstance(key, int) else key for key in path)


def _content(made: Represented | None, path: Path) -> float | None:
    if made is None or (path[0] not in ("extract_in",) and path[-1] != "add"):
        return None
    return made.contents[0 if path[0] == "extract_in" else path[1] + 1]


def _figures(chain: Chain, made: Represented, unit: str) -> list[PortionFigure]:
    figures = []
    content, symbols = _content_working(chain, unit)
    if made.sample is not None:
        load = Symbol(name="load", printed="V_L", meaning="volume loaded", value=chain.load.value, unit="mL")
        figures.append(
            PortionFigure(
                name="sample_represented",
                title="Sample represented by the volume loaded",
                symbol="m",
                value=made.sample,
                unit=unit,
                formula="Test portion over extraction volume, times the share kept in each dilution, times the load",
                source=PRACTICE,
                working=Working(expression=f"{content} · {{load}}", symbols=(*symbols, load)),
            )
        )
    figures.append(_factor(chain, made, unit, content, symbols))
    if made.u_relative is not None:
        figures.append(_uncertainty(chain, made))
    return figures


def _content_working(chain: Chain, unit: str) -> tuple[str, list[Symbol]]:
    """Sample in 1 mL of the last extract: expression and symbols."""
    if chain.extract_in is None:
        pieces, symbols = ["1"], []
    else:
        pieces = ["{weighed} / {extract}"]
        symbols = [
            Symbol(name="weighed", printed="W", meaning="test portion", value=chain.weigh.value, unit=unit),
            Symbol(name="extract", printed="V_X", meaning="extraction volume", value=chain.extract_in.value, unit="mL"),
        ]
    for i, (taken, added) in enumerate(chain.dilute, start=1):
        pieces.append(f"{{taken{i}}} / ({{taken{i}}} + {{added{i}}})")
        which = f" in dilution {i}" if len(chain.dilute) > 1 else ""
        mark = str(i) if len(chain.dilute) > 1 else ""
        symbols += [
            Symbol(name=f"taken{i}", printed=f"a{mark}", meaning=f"volume taken{which}", value=taken.value, unit="mL"),
            Symbol(name=f"added{i}", printed=f"b{mark}", meaning=f"volume added{which}", value=added.value, unit="mL"),
        ]
    return " · ".join(pieces), symbols


def _factor(chain: Chain, made: Represented, unit: str, content: str, symbols: list[Symbol]) -> PortionFigure:
    if made.sample is None:
        expression, of = f"1 / ({content})", "the concentration in the last extract"
    else:
        sample = Symbol(name="sample", printed="m", meaning="sample represented", value=made.sample, unit=unit)
        symbols, expression, of = [sample], "1 / {sample}", "the amount on the column"
        if chain.elute_in is not None:
            eluate = Symbol(
                name="eluate", printed="V_E", meaning="volume of the eluate", value=chain.elute_in.value, unit="mL"
            )
            symbols, expression = [eluate, sample], "{eluate} / {sample}"
            of = "the concentration in the eluate"
    above = "1" if made.sample is not None and chain.elute_in is None else "mL"
    result = "mass fraction" if unit == "g" else "content by volume"
    return PortionFigure(
        name="factor",
        title=f"Factor from {of} to the {result}",
        symbol="F",
        value=made.factor,
        unit=f"{above}/{unit}",
        formula=f"The {result} is F times {of}, all of the analyte recovered",
        source=PRACTICE,
        working=Working(expression=expression, symbols=tuple(symbols)),
    )


def _uncertainty(chain: Chain, made: Represented) -> PortionFigure:
    """100·√(Σ (c·a/x)² / 3) for rectangular tolerances, / 6 for triangular ones."""
    tolerances = dict(chain.steps())
    divisor = {"rectangular": 3, "triangular": 6}[chain.distribution]
    terms, symbols = [], []
    for number, (path, sensitivity, part) in enumerate(made.shares, start=1):
        if part is None:
            continue
        terms.append(f"({{c{number}}} · {{t{number}}} / {{x{number}}})^2")
        step, words = tolerances[path], TITLES[str(path[-1])].lower()
        which = f" in dilution {path[1] + 1}" if len(path) > 1 and len(chain.dilute) > 1 else ""
        unit = "g" if path == ("weigh",) and not chain.liquid else "mL"
        symbols += [
            Symbol(
                name=f"c{number}",
                printed=f"c_{number}",
                meaning=f"sensitivity: {words}{which}",
                value=sensitivity,
                unit="1",
            ),
            Symbol(
                name=f"t{number}",
                printed=f"t_{number}",
                meaning=f"tolerance: {words}{which}",
                value=step.tolerance,
                unit=unit,
            ),
            Symbol(name=f"x{number}", printed=f"x_{number}", meaning=f"{words}{which}", value=step.value, unit=unit),
        ]
    return PortionFigure(
        name="u_factor",
        title="Relative standard uncertainty of the factor, from the tolerances stated",
        symbol="u_rel(F)",
        value=100 * made.u_relative,
        unit="%",
        formula=f"Root of the sum of (sensitivity · relative tolerance)^2, {chain.distribution}: over √{divisor}",
        source=GUM,
        working=Working(expression=f"100 · √(({' + '.join(terms)}) / {divisor})", symbols=tuple(symbols)),
    )


def _sentences(portion: Portion, chain: Chain, made: Represented | None, unit: str) -> list[str]:
    if made is None:
        return ["The steps do not say how much sample stands behind what is read: the test portion is recorded alone."]
    told = []
    if made.sample is not None:
        told.append(f"The {portion.load.text} loaded stand for {made.sample:.4g} {unit} of sample.")
    if made.sample is None or chain.elute_in is not None:
        where = "eluate" if chain.elute_in is not None else "extract as read"
        told.append(f"1 ng/mL in the {where} stands for {made.factor:.4g} ng/{unit} of sample, if all was recovered.")
    lacking = [TITLES[str(path[-1])].lower() for path, _, part in made.shares if part is None]
    if made.u_relative is None:
        told.append("No tolerance is stated, so no uncertainty of the factor is computed.")
    else:
        told.append(
            f"The tolerances give the factor a relative standard uncertainty of {100 * made.u_relative:.2g} %"
            + (f"; no tolerance is stated for: {', '.join(lacking)}." if lacking else ".")
        )
        if portion.tolerances.source is None:
            told.append("The protocol names no source of the tolerances.")
        else:
            told.append(f"Tolerances: {portion.tolerances.source.rstrip('.')}.")
    told.append("Volumes are taken to add up, and the sample to fill none of the solvent's volume.")
    return told
