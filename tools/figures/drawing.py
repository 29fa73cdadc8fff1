"""Draw a figure as SVG, the same bytes each time, to be read on light and dark pages."""

from __future__ import annotations

import io
import itertools
from pathlib import Path
from typing import TYPE_CHECKING, Final

import matplotlib as mpl
from matplotlib.figure import Figure as Canvas
from matplotlib.ticker import FuncFormatter
from tools.figures.records import Axis, Figure, Panel, text_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

mpl.use("svg")

_PAPER: Final = "#fbfaf7"
"""A ground of its own: the page around it may be dark."""
_INK: Final = "#22262b"
_FAINT: Final = "#c9c6bd"
_REFERENCE: Final = "#6a6f76"
_COLOURS: Final = ("#1f4e79", "#a4472a", "#3d6b35", "#6b3f7d", "#8a6d1d", "#2a7a7a", "#7a2f4f")
_DASHES: Final = ("-", "--", "-.", ":", (0, (6, 1.5, 1, 1.5, 1, 1.5)), (0, (1, 1)), (0, (9, 2)))
"""A line is told by its dashes too, not by colour alone."""
_MARKS: Final = ("o", "s", "^", "D", "v")
_PANEL_IN: Final = (4.3, 3.5)

_STYLE: Final = {
    "svg.fonttype": "none",
    "svg.hashsalt": "kerfwright",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 9,
    "axes.edgecolor": _INK,
    "axes.labelcolor": _INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.titlesize": 9,
    "xtick.color": _INK,
    "ytick.color": _INK,
    "text.color": _INK,
    "grid.color": _FAINT,
    "grid.linewidth": 0.4,
    "legend.frameon": False,
    "legend.fontsize": 8,
    "legend.handlelength": 3.2,
    "path.simplify": True,
}


def svg_of(figure: Figure) -> str:
    """Return the picture with its numbers in the description."""
    with mpl.rc_context(_STYLE):
        wide, high = _PANEL_IN
        canvas = Canvas(
            figsize=(wide * max(len(figure.panels), 1.35), high),
            facecolor=_PAPER,
            layout="constrained",
        )
        canvas.suptitle(figure.title, fontsize=10, fontweight="bold")
        for number, panel in enumerate(figure.panels, start=1):
            _panel(canvas.add_subplot(1, len(figure.panels), number, facecolor=_PAPER), panel)
        into = io.StringIO()
        canvas.savefig(
            into,
            format="svg",
            metadata={
                "Date": None,
                "Creator": None,
                "Title": figure.title,
                "Description": text_of(figure),
            },
        )
    return "\n".join(row.rstrip() for row in into.getvalue().splitlines()) + "\n"


def _panel(axes: Axes, panel: Panel) -> None:
    looks = itertools.cycle(zip(_COLOURS, _DASHES, strict=True))
    marks = itertools.cycle(_MARKS)
    colour = _COLOURS[0]
    for one in panel.series:
        if one.is_reference:
            if one.low:
                axes.fill_between(one.x, one.low, one.high, color=_REFERENCE, alpha=0.22, lw=0,
                                  label=one.label)  # fmt: skip
            else:
                axes.plot(one.x, one.y, color=_REFERENCE, lw=0.9, ls=(0, (2, 2)), label=one.label)
            continue
        if one.is_points:
            axes.plot(one.x, one.y, next(marks), color=colour, markersize=5, mfc=_PAPER, mew=1.3,
                      label=one.label)  # fmt: skip
            continue
        colour, dashes = next(looks)
        axes.plot(one.x, one.y, color=colour, lw=1.5, ls=dashes, label=one.label)
        if one.low:
            axes.fill_between(one.x, one.low, one.high, color=colour, alpha=0.14, lw=0)
    axes.set_title(panel.title, loc="left")
    _axis(axes, "x", panel.x)
    _axis(axes, "y", panel.y)
    axes.grid(visible=True, which="major")
    axes.legend(loc="best")


def _axis(axes: Axes, which: str, axis: Axis) -> None:
    getattr(axes, f"set_{which}label")(axis.label)
    if axis.is_log:
        getattr(axes, f"set_{which}scale")("log")
        plain = FuncFormatter(lambda value, _place: f"{value:g}")
        getattr(axes, f"{which}axis").set_major_formatter(plain)
        getattr(axes, f"{which}axis").set_minor_formatter(FuncFormatter(lambda *_: ""))
    if axis.names:
        getattr(axes, f"set_{which}ticks")(range(1, len(axis.names) + 1), axis.names, fontsize=7)
    ends = {f"{which}min": axis.low, f"{which}max": axis.high}
    getattr(axes, f"set_{which}lim")(**{k: v for k, v in ends.items() if v is not None})


def write(figure: Figure, folder: Path) -> Path:
    """Write the picture of a figure."""
    path = folder / f"{figure.name}.svg"
    path.write_text(svg_of(figure), encoding="utf-8")
    return path
