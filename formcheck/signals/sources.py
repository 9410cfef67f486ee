"""Which source each curve is read from in each view: the plane of the picture, or the body fitted in space."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Literal

from formcheck.core.model import CameraView

Band = Literal["front", "front_turned", "oblique", "side", "back"]
"""Where the camera stands: up to 10° from straight in front, up to 25°; at a half angle, in front or behind; at a side;
straight behind."""
Source = Literal["plane", "fit", "both"]
FRONT_WITHIN_DEG = 10.0


@cache
def read_table() -> Mapping[str, Mapping[Band, Source]]:
    """Curve name → band → source, as `sources.toml` says."""
    text = (Path(__file__).parent / "sources.toml").read_text(encoding="utf-8")
    rows: dict[str, dict[Band, Source]] = tomllib.loads(text)
    return rows


ONLY_WITH_BODY = frozenset({"arm_line_raise", "hand_height_difference", "forearm_sideways"})
"""Curves read from the plane that are not given where no body can be fitted: its landmarks are then on wrong joints, as
those of left and right that change places from picture to picture."""


def find_band(view: CameraView) -> Band:
    """The band a view belongs to; the view's name counts, and its yaw only in front."""
    if view.name in ("left", "right"):
        return "side"
    if view.name == "back":
        return "back"
    if view.name == "oblique":
        return "oblique"
    return "front" if abs(view.yaw_deg or 0.0) <= FRONT_WITHIN_DEG else "front_turned"


def list_fitted(view: CameraView) -> dict[str, Source]:
    """Curves that have to do with the fitted body in this view, and how: ``fit`` or ``both``."""
    band = find_band(view)
    return {name: row[band] for name, row in read_table().items() if row.get(band, "plane") != "plane"}
