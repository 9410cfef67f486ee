"""Draws the measured skeleton and captions onto a picture.

Left and right are told apart twice, by colour and by form, so that the drawing reads the same for a colour-blind
coach: the lifter's left side is one solid stroke, the right side a stroke with a dark line inside. What the model
calls hidden is drawn as loose dashes.
"""

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import Array
from formcheck.signals.skeleton import BODY, BONES, INDEX
from formcheck.video.orientation import Rgb

Colour = tuple[int, int, int]

LEFT: Colour = (92, 184, 236)
RIGHT: Colour = (244, 136, 178)
MIDDLE: Colour = (238, 234, 222)
INK: Colour = (18, 26, 30)
HIDDEN_BELOW = 0.5
"""Limbs with an end less visible than this are dashed."""

SHIFT = 3
"""Binary digits behind the point of the places OpenCV draws at."""
REACH = 30_000
"""Pixels; OpenCV's fixed-point lines overflow far outside the picture."""


def choose_stroke(rgb: Rgb) -> int:
    """Width of a limb, in pixels, by the size of the picture."""
    return int(max(2, round(max(rgb.shape[:2]) / 210)))


def draw_skeleton(rgb: Rgb, pixels: Array, visibility: Array, *, stroke: int | None = None) -> Rgb:
    """Draw a pose onto a picture, in place, and return the picture.

    Parameters
    ----------
    rgb : (h, w, 3) writable picture.
    pixels : (33, 2) landmarks in pixels of this picture; limbs with NaN ends are left out.
    visibility : (33,) 0..1.
    stroke : width of a limb in pixels; None: by the size of the picture.
    """
    stroke = stroke or choose_stroke(rgb)
    limbs = [(INDEX[a], INDEX[b], _choose_colour(a, b)) for a, b in BONES]
    drawn = [(a, b, colour) for a, b, colour in limbs if np.isfinite(pixels[[a, b]]).all()]
    seen = {(a, b): min(visibility[a], visibility[b]) >= HIDDEN_BELOW for a, b, _ in drawn}
    for a, b, colour in sorted(drawn, key=lambda limb: seen[limb[0], limb[1]]):  # hidden limbs lie below the others
        if seen[a, b]:
            _draw_limb(rgb, pixels[a], pixels[b], colour, stroke)
        else:
            _draw_dashes(rgb, pixels[a], pixels[b], colour, max(1, round(0.6 * stroke)), 4 * stroke)
    for name in BODY:
        index = INDEX[name]
        if np.isfinite(pixels[index]).all() and visibility[index] >= HIDDEN_BELOW:
            _draw_joint(rgb, pixels[index], _choose_colour(name, name), stroke)
    return rgb


def draw_caption(rgb: Rgb, text: str) -> Rgb:
    """Write one line of text on a dark plate at the upper left, in place, and return the picture.

    There it stands clear of a player's controls. The line is cut where the picture ends.
    """
    height, width = rgb.shape[:2]
    size = max(11, round(max(height, width) / 36))
    margin = size // 2
    _lay_plate(rgb, _make_plate(text, size), min(margin, max(0, height - 1)), min(margin, max(0, width - 1)))
    return rgb


def draw_plate(rgb: Rgb, text: str, middle: tuple[float, float], *, size: int) -> Rgb:
    """Write one line of text on a dark plate about a point, moved inside the picture, in place; return the picture.

    size : of the letters, in pixels.
    """
    plate = _make_plate(text, size)
    limits = [max(0, have - need) for have, need in zip(rgb.shape[:2], plate.shape[:2], strict=True)]
    x, y = middle
    top, left = round(y - plate.shape[0] / 2), round(x - plate.shape[1] / 2)
    _lay_plate(rgb, plate, min(max(top, 0), limits[0]), min(max(left, 0), limits[1]))
    return rgb


def _lay_plate(rgb: Rgb, plate: NDArray[np.uint8], top: int, left: int) -> None:
    part = rgb[top : top + plate.shape[0], left : left + plate.shape[1]]
    piece = plate[: part.shape[0], : part.shape[1]].astype(np.uint16)
    weight = piece[:, :, 3:4]
    part[:] = ((part * (255 - weight) + piece[:, :, :3] * weight) // 255).astype(np.uint8)


def _choose_colour(first: str, second: str) -> Colour:
    sides = {name.split("_")[0] for name in (first, second)}
    return LEFT if sides == {"left"} else RIGHT if sides == {"right"} else MIDDLE


def _draw_limb(rgb: Rgb, start: Array, end: Array, colour: Colour, stroke: int) -> None:
    _draw_line(rgb, start, end, INK, stroke + max(2, stroke // 2))
    _draw_line(rgb, start, end, colour, stroke)
    if colour is RIGHT:
        _draw_line(rgb, start, end, INK, max(1, stroke // 3))


def _draw_dashes(rgb: Rgb, start: Array, end: Array, colour: Colour, stroke: int, dash: int) -> None:
    start, end = np.clip(start, -REACH, REACH), np.clip(end, -REACH, REACH)
    # the picture's diagonal bounds the count even when a landmark lies far outside
    count = int(np.clip(np.hypot(*(end - start)) / dash, 1, np.hypot(*rgb.shape[:2]) / dash + 1))
    for step in np.arange(count + 1):
        near, far = step / (count + 0.5), min(1.0, (step + 0.5) / (count + 0.5))
        first, last = start + near * (end - start), start + far * (end - start)
        _draw_line(rgb, first, last, INK, stroke + 2)
        _draw_line(rgb, first, last, colour, stroke)


def _draw_joint(rgb: Rgb, centre: Array, colour: Colour, stroke: int) -> None:
    import cv2

    at = _to_fixed_point(centre)
    cv2.circle(rgb, at, round((0.9 * stroke + 1) * 2**SHIFT), INK, -1, cv2.LINE_AA, SHIFT)
    cv2.circle(rgb, at, round(0.6 * stroke * 2**SHIFT), colour, -1, cv2.LINE_AA, SHIFT)


def _draw_line(rgb: Rgb, start: Array, end: Array, colour: Colour, stroke: int) -> None:
    import cv2

    cv2.line(rgb, _to_fixed_point(start), _to_fixed_point(end), colour, stroke, cv2.LINE_AA, SHIFT)


def _to_fixed_point(point: Array) -> tuple[int, int]:
    x, y = np.round(np.clip(point, -REACH, REACH) * 2**SHIFT).astype(int)
    return int(x), int(y)


@lru_cache(maxsize=256)
def _make_plate(text: str, size: int) -> NDArray[np.uint8]:
    """(h, w, 4) the text on its plate, with opacity."""
    from PIL import Image, ImageDraw, ImageFont

    font: Any = ImageFont.load_default(size)
    text = text.replace("\u00a0", " ")  # for which the font has no glyph
    left, _, right, _ = font.getbbox(text)
    ascent, descent = font.getmetrics()
    pad = size // 2
    picture = Image.new("RGBA", (round(right - left) + 2 * pad, ascent + descent + pad), (0, 0, 0, 0))
    pen = ImageDraw.Draw(picture)
    pen.rounded_rectangle((0, 0, picture.width - 1, picture.height - 1), radius=size // 3, fill=(*INK, 205))
    pen.text((pad - left, pad // 2), text, font=font, fill=(*MIDDLE, 255))
    return np.asarray(picture, dtype=np.uint8)
