"""Draws what a finding says of the body onto a picture: the angle's arc, where it should be, and the number.

Whoever makes the strokes (`formcheck.report.body_marks`) says what they mean; here stands only how each is drawn.
Nothing is told by colour alone: what is measured is a solid stroke, what is asked for a dashed one, what is missing
between the two a shaded field with an arrow head.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from formcheck.core.model import Array, Grade
from formcheck.video.drawing import INK, MIDDLE, REACH, SHIFT, Colour, choose_stroke, draw_plate
from formcheck.video.orientation import Rgb

Role = Literal["gap", "base", "arc", "limb", "target", "head"]
"""The field between measured and asked for; the line an angle is measured from; its arc; what was measured; what is
asked for; the head of the arrow from the one to the other. In this order they are drawn."""
ROLES: tuple[Role, ...] = ("gap", "base", "arc", "limb", "target", "head")
COLOURS: dict[Grade, Colour] = {
    "met": (116, 208, 181),
    "probably_met": (116, 208, 181),
    "close": (190, 200, 232),
    "probably_not_met": (250, 164, 110),
    "not_met": (250, 164, 110),
}
_GAP_SHARE = 0.38
"""How much of a field's colour covers the picture."""
_WIDTHS: dict[Role, float] = {"base": 0.7, "arc": 0.9, "limb": 1.5, "target": 1.1}
"""Of a limb's width."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line, or for *gap* and *head* one filled field."""

    role: Role
    points: tuple[tuple[float, float], ...]
    """Pixels of the upright clip, x to the right and y down."""


@dataclass(frozen=True, slots=True)
class MarkDrawing:
    """What is drawn on one picture."""

    strokes: tuple[Stroke, ...]
    label: tuple[float, float]
    """Where the number stands: its middle."""


def draw_mark(
    rgb: Rgb,
    drawing: MarkDrawing,
    text: str,
    grade: Grade,
    *,
    scale: float = 1.0,
    inside: tuple[int, int, int, int] | None = None,
) -> Rgb:
    """Draw a mark onto a picture, in place, and return the picture.

    Parameters
    ----------
    rgb : (h, w, 3) writable picture.
    text : the number with its margin.
    scale : pixels of the picture for one of the clip.
    inside : left, top, right and bottom, pixels of the picture, of the part that will be seen: the number stays in it.
    """
    stroke, colour = choose_stroke(rgb), COLOURS[grade]
    for role in ROLES:
        for item in drawing.strokes:
            if item.role == role:
                points = np.clip(np.asarray(item.points, dtype=float) * scale, -REACH, REACH)
                _draw_stroke(rgb, role, points, colour, stroke)
    x, y = (value * scale for value in drawing.label)
    left, top, right, bottom = inside or (0, 0, rgb.shape[1], rgb.shape[0])
    draw_plate(rgb[top:bottom, left:right], text, (x - left, y - top), size=max(11, round(max(rgb.shape[:2]) / 40)))
    return rgb


def _draw_stroke(rgb: Rgb, role: Role, points: Array, colour: Colour, stroke: int) -> None:
    import cv2

    fixed = np.round(points * 2**SHIFT).astype(np.int32)
    if role == "gap":
        mask = np.zeros(rgb.shape[:2], dtype=np.uint8)
        cv2.fillPoly(mask, [fixed], 255, cv2.LINE_AA, SHIFT)
        inside = mask > 0
        mixed = (1 - _GAP_SHARE) * rgb[inside] + _GAP_SHARE * np.array(colour)
        rgb[inside] = mixed.astype(np.uint8)
        return
    if role == "head":
        cv2.fillPoly(rgb, [fixed], colour, cv2.LINE_AA, SHIFT)
        cv2.polylines(rgb, [fixed], True, INK, max(1, stroke // 3), cv2.LINE_AA, SHIFT)
        return
    width = max(1, round(_WIDTHS[role] * stroke))
    lines = _cut_dashes(points, 3.2 * stroke, 2.2 * stroke) if role == "target" else [points]
    for tint, wide in ((INK, width + max(2, stroke // 2)), (MIDDLE if role in ("target", "base") else colour, width)):
        for line in lines:
            cv2.polylines(rgb, [np.round(line * 2**SHIFT).astype(np.int32)], False, tint, wide, cv2.LINE_AA, SHIFT)


def _cut_dashes(points: Array, dash: float, space: float) -> list[Array]:
    """A line (n, 2) as dashes of two or more points each."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    if along[-1] <= 0:
        return []
    starts = np.arange(0.0, along[-1], max(dash + space, along[-1] / 400))
    dashes = []
    for start in starts:
        inside = (along > start) & (along < start + dash)
        at = np.concatenate([[start], along[inside], [min(start + dash, along[-1])]])
        dashes.append(np.stack([np.interp(at, along, points[:, axis]) for axis in range(2)], axis=1))
    return dashes
