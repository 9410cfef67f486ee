"""Colours of the page's charts and drawings, and the layout all charts share."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import plotly.graph_objects as go

from formcheck.core.model import Grade, Side
from formcheck.report.phases import PhaseName
from formcheck.verdicts import get_verdict

AXIS_SUFFIX = {"deg": "°", "deg/s": " °/s", "s": " s"}
"""Unit of a measure → what stands behind the numbers of its axis."""
_LAYOUT: Mapping[str, Any] = {
    "paper_bgcolor": "rgba(0,0,0,0)",
    "plot_bgcolor": "rgba(0,0,0,0)",
    "dragmode": False,
    "showlegend": False,
    "hoverlabel": {"namelength": -1},
}


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours of one theme, as ``palettes.toml`` has them."""

    text: str
    muted: str
    grid: str
    left: str
    right: str
    both: str
    met: str
    not_met: str
    undecided: str
    target: str
    phases: Mapping[PhaseName, str]
    body: str
    phone: str
    floor: str
    ground: str

    def of_side(self, side: Side | None) -> str:
        """The colour of what belongs to a side of the body, or to both."""
        return {"left": self.left, "right": self.right, None: self.both}[side]

    def of_grade(self, grade: Grade) -> str:
        """The colour of a grade; how sure it is, its shape says."""
        return {"met": self.met, "not_met": self.not_met, "undecided": self.undecided}[get_verdict(grade)]


_TABLES = tomllib.loads(Path(__file__).with_name("palettes.toml").read_text(encoding="utf-8"))
LIGHT, DARK = Palette(**_TABLES["light"]), Palette(**_TABLES["dark"])


def get_palette(*, dark: bool) -> Palette:
    """The colours of the dark or the light theme."""
    return DARK if dark else LIGHT


def style_figure(
    figure: go.Figure, palette: Palette, *, x: Mapping[str, Any], y: Mapping[str, Any], **layout: Any
) -> None:
    """Give a chart the layout all charts share.

    Parameters
    ----------
    x, y : what is set of its axes besides.
    layout : what is set of the chart besides, such as ``height`` in pixels.
    """
    font = {"color": palette.text, "size": 13, "family": "'Source Sans', sans-serif"}
    axis = {"gridcolor": palette.grid, "zeroline": False, "color": palette.muted, "fixedrange": True}
    figure.update_layout(
        {**_LAYOUT, "font": font, "xaxis": {"showgrid": False, **axis, **x}, "yaxis": {**axis, **y}, **layout}
    )
