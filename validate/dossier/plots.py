"""Plot data → SVG: one ink, one accent, direct labels, the same bytes on every run.

Studies say what a picture shows (vocabulary/plot.py); only this module knows how it looks.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from validate.dossier import numbers
from validate.dossier.labels import (
    LINE_HEIGHT,
    LONGEST,
    Label,
    font_file,
    label_width,
    spread,
    staggered,
    text_width,
    with_lowered_letters,
    wrapped,
)
from validate.dossier.svg import finished
from validate.vocabulary.plot import Axis, Band, Bars, Line, Plot, Points, Rule, Whiskers

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK = "#1b1b1b"
ACCENT = "#2b4a7f"
TINT = "#dde4f0"
GREY = "#8a8a8a"
FONT = "Libertinus Serif"
SIZE = 8.5
WIDTH, HEIGHT = 346.0, 188.0
"""Size in points: the width of the text column, so that letters keep their size in print; three fit on a page."""
TOP, RIGHT, GAP = 22.0, 4.0, 7.0
MARKS = {"dot": "o", "ring": "o", "cross": "x", "square": "s", "triangle": "^"}
MARK_SIGNS = {"dot": "●", "ring": "○", "cross": "×", "square": "■", "triangle": "▲"}
DASHES: dict[str, Any] = {"solid": "-", "dashed": (0, (5, 3)), "dotted": (0, (1, 2))}
LEAN = 40.0
"""Degrees by which category names lean that have no room to lie."""
_STYLE = {
    "font.family": FONT,
    "font.size": SIZE,
    "svg.fonttype": "none",
    "svg.hashsalt": "dossier",
    "axes.linewidth": 0.6,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "text.parse_math": False,
    "path.simplify": False,
}


def draw(plot: Plot, prefix: str, bounds: Sequence[Rule | Line] = ()) -> Markup:
    """The picture as inline SVG. Every id begins with `prefix`; `bounds` are drawn as limits."""
    return drawn(plot, prefix, bounds)[0]


def drawn(plot: Plot, prefix: str, bounds: Sequence[Rule | Line]) -> tuple[Markup, tuple[float, ...], Any]:
    """The picture, the place of its axes (left, bottom, width, height as shares of the whole), the limits of x."""
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure
    from matplotlib.font_manager import fontManager

    if FONT not in {entry.name for entry in fontManager.ttflist if entry.fname == str(font_file())}:
        fontManager.addfont(str(font_file()))
    with matplotlib.rc_context({**matplotlib.rcParamsDefault, **_STYLE, "backend": "svg"}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing")
        figure = Figure(figsize=(WIDTH / 72, HEIGHT / 72))
        canvas = FigureCanvasSVG(figure)
        figure.patch.set_visible(False)
        axes = figure.add_axes((0.1, 0.1, 0.8, 0.8), facecolor="none")
        layers = (*plot.layers, *bounds)
        _set_limits(axes, plot, layers)
        labels = [label for i, layer in enumerate(layers) if (label := _layer(axes, layer, f"layer{i}")) is not None]
        _dress(axes, plot)
        _arrange(figure, axes, plot, labels)
        stream = io.StringIO()
        canvas.print_svg(stream, metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    rows = {f"layer{i}": layer for i, layer in enumerate(layers) if isinstance(layer, Points)}
    svg = finished(stream.getvalue(), plot, prefix, {gid: _told(layer, axes) for gid, layer in rows.items()})
    return svg, axes.get_position().bounds, axes.get_xlim()


def _layer(axes: Axes, layer: Any, gid: str) -> Label | None:
    return {
        Points: _points,
        Line: _line,
        Whiskers: _whiskers,
        Band: _band,
        Rule: _rule,
        Bars: _bars,
    }[type(layer)](axes, layer, gid)


def _points(axes: Axes, layer: Points, gid: str) -> Label | None:
    seen = _visible(layer, axes)
    if not seen:
        return None
    hollow = layer.mark == "ring"
    axes.plot(
        [layer.x[i] for i in seen],
        [layer.y[i] for i in seen],
        linestyle="none",
        marker=MARKS[layer.mark],
        markersize=4.2 if layer.mark != "cross" else 4.6,
        markerfacecolor="white" if hollow else INK,
        markeredgecolor=INK if hollow or layer.mark == "cross" else "white",
        markeredgewidth=0.8 if hollow or layer.mark == "cross" else 0.4,
        gid=gid,
        zorder=5,
    )
    last = max(seen, key=lambda i: (layer.x[i], layer.y[i]))
    return _label(layer.label and f"{MARK_SIGNS[layer.mark]} {layer.label}", layer.y[last])


def _line(axes: Axes, layer: Line, gid: str) -> Label | None:
    color = ACCENT if layer.accent else INK
    axes.plot(layer.x, layer.y, linestyle=DASHES[layer.style], color=color, linewidth=0.9, gid=gid, zorder=4)
    return _label(layer.label, layer.y[-1], color) if layer.y else None


def _whiskers(axes: Axes, layer: Whiskers, gid: str) -> Label | None:
    bottom, top = axes.get_ylim()
    for x, low, high in zip(layer.x, layer.low, layer.high, strict=True):
        ends = (bottom if low is None else low, top if high is None else high)
        axes.plot([x, x], ends, color=ACCENT, linewidth=1.1, zorder=6, solid_capstyle="butt")
        for end, closed, open_mark in ((ends[0], low is not None, "v"), (ends[1], high is not None, "^")):
            axes.plot(
                [x], [end], marker="_" if closed else open_mark, color=ACCENT, markersize=6 if closed else 4, zorder=6
            )
    axes.plot(
        layer.x, layer.y, linestyle="none", marker="D", markersize=4.4, color=ACCENT,
        markeredgecolor="white", markeredgewidth=0.6, gid=gid, zorder=7,
    )  # fmt: skip
    return _label(layer.label and f"◆ {layer.label}", layer.y[-1], ACCENT) if layer.y else None


def _band(axes: Axes, layer: Band, gid: str) -> Label | None:
    axes.fill_between(layer.x, layer.low, layer.high, color=TINT, linewidth=0, gid=gid, zorder=1)
    return _label(layer.label, (layer.low[-1] + layer.high[-1]) / 2, ACCENT) if layer.x else None


def _rule(axes: Axes, layer: Rule, gid: str) -> Label | None:
    how = {"color": ACCENT, "linewidth": 0.9, "linestyle": DASHES[layer.style], "gid": gid, "zorder": 3}
    if layer.axis == "y":
        axes.axhline(layer.at, **how)
        return _label(layer.label, layer.at, ACCENT)
    axes.axvline(layer.at, **how)
    return Label(layer.label, layer.at, ACCENT, on_top=True) if layer.label else None


def _bars(axes: Axes, layer: Bars, gid: str) -> Label | None:
    edges = _bar_edges(layer, axes.get_xscale() == "log")
    axes.bar(
        [low for low, _ in edges], layer.y, width=[high - low for low, high in edges], align="edge",
        color="#d9d9d9", edgecolor=INK, linewidth=0.6, zorder=2, gid=gid,
    )  # fmt: skip
    return _label(layer.label, layer.y[-1]) if layer.y else None


def _bar_edges(layer: Bars, log: bool) -> list[tuple[float, float]]:
    """Left and right of every bar; bars are equally wide on paper, on a log axis too."""
    places = [math.log10(x) for x in layer.x] if log else list(layer.x)
    half = 0.35 * min((b - a for a, b in pairwise(sorted(set(places)))), default=1.0)
    return [(10 ** (p - half), 10 ** (p + half)) if log else (p - half, p + half) for p in places]


def _label(text: str, y: float, color: str = INK) -> Label | None:
    return Label(text, y, color) if text else None


def _visible(layer: Points, axes: Axes) -> list[int]:
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    return [
        i for i, (x, y) in enumerate(zip(layer.x, layer.y, strict=True)) if left <= x <= right and bottom <= y <= top
    ]


def _told(layer: Points, axes: Axes) -> tuple[list[tuple[int | None, str]], int]:
    """Row and text of every visible point, and how many lie outside the picture."""
    seen = _visible(layer, axes)
    rows = [layer.rows[i] if i < len(layer.rows) else None for i in seen]
    texts = [numbers.significant(layer.y[i]) for i in seen]
    return [(row, text) for row, text in zip(rows, texts, strict=True)], len(layer.y) - len(seen)


def _set_limits(axes: Axes, plot: Plot, layers: Sequence[Any]) -> None:
    xs, ys = _extent(layers, plot.x.scale == "log")
    axes.set_xscale(plot.x.scale)
    axes.set_yscale(plot.y.scale)
    axes.set_xlim(_limits(plot.x, xs, 0.05))
    axes.set_ylim(_limits(plot.y, ys, 0.08))


def _extent(layers: Sequence[Any], log: bool) -> tuple[list[float], list[float]]:
    xs: list[float] = []
    ys: list[float] = []
    for layer in layers:
        if isinstance(layer, Rule):
            (ys if layer.axis == "y" else xs).append(layer.at)
            continue
        xs.extend(layer.x)
        for name in ("y", "low", "high"):
            ys.extend(v for v in getattr(layer, name, ()) if v is not None)
        if isinstance(layer, Bars):
            ys.append(0.0)
            xs.extend(edge for edges in _bar_edges(layer, log) for edge in edges)
    return xs, ys


def _limits(axis: Axis, values: list[float], pad: float) -> tuple[float, float]:
    if axis.categories:
        return 0.5, len(axis.categories) + 0.5
    if axis.scale == "log":
        values = [v for v in values if v > 0] or [1.0]
        low, high = math.log10(min(values)), math.log10(max(values))
        room = pad * ((high - low) or 1.0)
        low, high = 10 ** (low - room), 10 ** (high + room)
    else:
        low, high = min(values, default=0.0), max(values, default=1.0)
        room = pad * ((high - low) or abs(high) or 1.0)
        low, high = low - room, high + room
    return axis.low if axis.low is not None else low, axis.high if axis.high is not None else high


def _dress(axes: Axes, plot: Plot) -> None:
    from matplotlib.ticker import FixedFormatter, FixedLocator, LogLocator, MaxNLocator, NullFormatter

    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=3, width=0.6, pad=2.5, which="major")
    axes.tick_params(length=1.5, width=0.4, which="minor")
    for axis, most, drawn in ((plot.x, 7, axes.xaxis), (plot.y, 6, axes.yaxis)):
        low, high = drawn.get_view_interval()
        if axis.categories:
            places: list[float] = list(range(1, len(axis.categories) + 1))
        elif axis.scale == "log":
            places = [v for v in LogLocator(subs=(1.0, 2.0, 5.0)).tick_values(low, high) if low <= v <= high]
        else:
            steps = MaxNLocator(most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
            places = [v for v in steps if low <= v <= high]
        drawn.set_major_locator(FixedLocator(places))
        drawn.set_major_formatter(FixedFormatter(_tick_texts(axis, places)))
        drawn.set_minor_formatter(NullFormatter())


def _tick_texts(axis: Axis, places: Sequence[float]) -> list[str]:
    if axis.categories:
        return [wrapped(text, LONGEST) for text in axis.categories]
    return [numbers.calculator(v) for v in places] if axis.scale == "log" else numbers.ticks(places)


def _arrange(figure: Any, axes: Axes, plot: Plot, labels: Sequence[Label]) -> None:
    """Fixed margins from measured texts; the y label lies flat above its axis, labels stand at the right."""
    beside, above = [x for x in labels if not x.on_top], [x for x in labels if x.on_top]
    left = 10.0 + max((text_width(text) for text in axes.yaxis.get_major_formatter().seq), default=10.0)
    right = RIGHT + max((label_width(line) + GAP for label in beside for line in label.lines), default=0.0)
    bottom = 24.0 + _set_x_ticks(axes, plot, WIDTH - left - right)
    width = WIDTH - left - right
    across = _along(axes.get_xlim(), axes.get_xscale(), width)
    tiers = staggered([(across(label.at), label_width(label.lines[0])) for label in above])
    height = HEIGHT - bottom - TOP - LINE_HEIGHT * max((tier + 1 for tier in tiers), default=0)
    axes.set_xlabel(wrapped(_axis_label(plot.x.label), 70), labelpad=4)
    axes.set_position((left / WIDTH, bottom / HEIGHT, width / WIDTH, height / HEIGHT))
    figure.text(2.0 / WIDTH, (HEIGHT - SIZE) / HEIGHT, wrapped(_axis_label(plot.y.label), 70), ha="left", va="baseline")
    for label, tier in zip(above, tiers, strict=True):
        place = ((left + across(label.at)) / WIDTH, (bottom + height + 3.0 + LINE_HEIGHT * tier) / HEIGHT)
        figure.text(*place, label.lines[0], color=label.color, ha="center", va="baseline")
    up = _along(axes.get_ylim(), axes.get_yscale(), height)
    for label, place in zip(beside, spread([up(label.at) for label in beside], beside, height), strict=True):
        figure.text((WIDTH - right + GAP) / WIDTH, (bottom + place) / HEIGHT, "\n".join(label.lines), color=label.color,
                    va="center", ha="left", linespacing=1.0)  # fmt: skip


def _axis_label(label: str) -> str:
    """Symbols as they are printed; the unit 1 of a plain number is not."""
    return with_lowered_letters(label.removesuffix(", 1").removesuffix(" (1)"))


def _set_x_ticks(axes: Axes, plot: Plot, width: float) -> float:
    """Category names wrap to their slot; where one does not fit all lean, and of too many every k-th is named.

    Returns the height that they take, in points.
    """
    names = plot.x.categories
    if not names:
        return LINE_HEIGHT
    slot = width / len(names) - 3.0
    flat = [wrapped(name, max(4, int(slot / 4.2))) for name in names]
    if max(map(text_width, flat)) <= slot:
        axes.set_xticks(axes.get_xticks(), flat)
        return LINE_HEIGHT * max(text.count("\n") + 1 for text in flat)
    every = max(1, math.ceil(LINE_HEIGHT / (slot + 3.0)))
    one_line = [wrapped(name, LONGEST).split("\n")[0] if i % every == 0 else "" for i, name in enumerate(names)]
    axes.set_xticks(
        axes.get_xticks(), one_line, rotation=LEAN, rotation_mode="anchor", ha="right", va="center_baseline"
    )
    return LINE_HEIGHT + max(map(text_width, one_line)) * math.sin(math.radians(LEAN))


def _along(limits: tuple[float, float], scale: str, length: float) -> Callable[[float], float]:
    """Data value → points along an axis of `length` points."""
    low, high = limits
    if scale == "log":
        return lambda value: length * math.log(value / low) / math.log(high / low) if value > 0 else 0.0
    return lambda value: length * (value - low) / (high - low)
