"""Turns stored pictures upright: display matrix, pixel shape, size.

A display matrix (ISO/IEC 14496-12, track header) maps a stored point (x, y) to the shown point
(a·x + c·y, b·x + d·y). Clips use only quarter turns and mirrors, the eight cases of `Orientation`.
"""

import struct
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

Rgb = NDArray[np.uint8]

SHAPE_LIMIT = 8.0
"""Pixels more oblong than this are taken for a damaged header and ignored."""


@dataclass(frozen=True, slots=True)
class Orientation:
    """One of the eight ways to lay a picture: swap the axes first, then mirror."""

    swap: bool = False
    mirror_x: bool = False
    mirror_y: bool = False

    @property
    def mirrors(self) -> bool:
        """Left and right are exchanged, which no turning can undo."""
        return (self.swap + self.mirror_x + self.mirror_y) % 2 == 1

    def apply(self, rgb: Rgb) -> Rgb:
        """The picture laid upright; (h, w, 3) in, contiguous (h, w, 3) or (w, h, 3) out."""
        import cv2

        if self.swap:
            rgb = np.asarray(cv2.transpose(rgb), dtype=np.uint8)
        if self.mirror_x or self.mirror_y:
            code = -1 if self.mirror_x and self.mirror_y else 1 if self.mirror_x else 0
            rgb = np.asarray(cv2.flip(rgb, code), dtype=np.uint8)
        # a padded row makes the pose model see noise without a word: never hand on a strided view
        return np.ascontiguousarray(rgb)


def make_orientation(a: float, b: float, c: float, d: float) -> Orientation:
    """The orientation nearest to the display matrix's linear part."""
    if abs(a) + abs(d) >= abs(b) + abs(c):
        return Orientation(False, a < 0, d < 0)
    return Orientation(True, c < 0, b < 0)


def read_orientation(picture: "VideoFrame") -> Orientation:
    """The orientation a decoded picture asks for; upright as stored when it says nothing."""
    from av.sidedata.sidedata import Type

    side_data: Any = picture.side_data
    for item in side_data:
        if item.type == Type.DISPLAYMATRIX:
            a, b, _, c, d, _, _, _, _ = struct.unpack("=9i", bytes(item)[:36])
            return make_orientation(a, b, c, d)
    return Orientation()


def compute_square_pixel_size(width: int, height: int, shape: Fraction | None) -> tuple[int, int]:
    """Width and height of the stored picture with square pixels.

    Parameters
    ----------
    width, height : stored pixels.
    shape : sample aspect ratio, width over height of one pixel; None when unknown (then square).

    The shorter direction is stretched, never the longer one shrunk, so that no detail is lost.
    """
    ratio = float(shape) if shape else 1.0
    if not 1 / SHAPE_LIMIT <= ratio <= SHAPE_LIMIT:
        ratio = 1.0
    return (round(width * ratio), height) if ratio >= 1 else (width, round(height / ratio))


def fit_size(width: int, height: int, max_side: int | None) -> tuple[int, int]:
    """Width and height, scaled down so that the longer side is at most max_side; never scaled up."""
    factor = min(1.0, max_side / max(width, height)) if max_side else 1.0
    return max(1, round(width * factor)), max(1, round(height * factor))
