"""The lifter's head made unrecognisable in pictures that leave the machine; `other_faces` does it for everybody else.

Where the head is follows from the landmarks. A cover is generous on purpose: a strip of wall made coarse costs
nothing, a chin left sharp costs the promise.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import Array, LandmarkRecording
from formcheck.signals.lengths import measure_trunk, select_both_sides
from formcheck.signals.skeleton import BONES, INDEX
from formcheck.video.orientation import Rgb

_HEAD = slice(INDEX["nose"], INDEX["mouth_right"] + 1)
PROMISE = (
    "The lifter’s head is covered in every picture, and every other face that is found. A face that is small, turned "
    "away, half hidden or in a mirror can be missed: look through it before you hand it on."
)
RADIUS_TO_TRUNK = 0.36
"""Head height 0.130 and shoulder to hip 0.288 of stature make half a head 0.23 of the trunk (Drillis and Contini
1966, as tabled in Winter, Biomechanics and Motor Control of Human Movement); the rest is for hair and for the
landmarks' own error. Our choice."""
LIMB_TO_TRUNK = 0.4
"""So wide a strip along each bone is the body: a thigh is about a third of the trunk wide, and clothes. Our choice."""
_RADIUS_TO_FACE = 1.9
"""Ears lie at half a head from its middle, the crown and the chin farther."""
_CELLS = 4
"""What is left of a head is no finer than so many patches across."""
_WHOLE_CELLS = 14
"""The same for a whole picture, along its longer side."""
LONGEST_GAP_S = 0.25
"""For so long a head that is not seen is still about where it was; beyond that the whole picture is covered."""


Circle = tuple[float, float, float]
"""x, y and radius in pixels."""


class Cover(ABC):
    """What is to be made unrecognisable in the pictures of a clip."""

    @abstractmethod
    def covers(self, t: float) -> list[Circle] | None:
        """Circles to be covered at t seconds, pixels of the upright clip; None: the whole picture."""

    def hide(self, rgb: Rgb, t: float, *, scale: float = 1.0) -> Rgb:
        """Make what is covered coarse beyond recognition, in place, and return the picture.

        Parameters
        ----------
        rgb : (h, w, 3) writable picture.
        t : when it is shown, seconds of the clip.
        scale : pixels of this picture a pixel of the clip.
        """
        circles = self.covers(t)
        if circles is None:
            rgb[:] = _coarse(rgb, _WHOLE_CELLS)
            return rgb
        for x, y, radius in circles:
            hide_circle(rgb, x * scale, y * scale, radius * scale)
        return rgb


@dataclass(frozen=True, eq=False)
class HeadCover(Cover):
    """Where the head is in every picture of a clip, pixels of the upright clip.

    Parameters
    ----------
    t : (n,) seconds of the pictures in which it was found; may be empty.
    centre : (n, 2) middle of the head.
    radius : (n,) how far the cover reaches.
    """

    t: Array
    centre: Array
    radius: Array

    def covers(self, t: float) -> list[Circle] | None:
        """Circles to be covered at t seconds; None: the whole picture.

        Between two pictures in which the head was found both positions are covered, and what lies between them.
        """
        right = int(np.searchsorted(self.t, t, side="right"))
        near = [index for index in (right - 1, right) if 0 <= index < len(self.t)]
        near = [index for index in near if abs(self.t[index] - t) <= LONGEST_GAP_S]
        if not near:
            return None
        spare = 1.0 + min(abs(self.t[index] - t) for index in near) / LONGEST_GAP_S
        first, last = near[0], near[-1]
        radius = float(max(self.radius[first], self.radius[last]) * spare)
        path = self.centre[last] - self.centre[first]
        steps = int(np.hypot(*path) / (radius / 2)) + 1
        centres = [self.centre[first] + path * share for share in np.linspace(0.0, 1.0, steps + 1)]
        return [(float(x), float(y), radius) for x, y in centres]


def make_head_cover(recording: LandmarkRecording) -> HeadCover:
    """Where the head is, from the landmarks of the face and the length of the trunk."""
    found, centre, radius = find_heads(recording.pixels, recording.clip.width, recording.clip.height)
    return HeadCover(recording.t[found], centre, radius)


def find_heads(pixels: Array, width: int, height: int) -> tuple[NDArray[np.bool_], Array, Array]:
    """The covers of the head of one person in n pictures.

    Parameters
    ----------
    pixels : (n, 33, 2) landmarks.
    width, height : pixels of the picture.

    Returns
    -------
    (n,) pictures with a face; of these m, (m, 2) the middle and (m,) the radius of the cover.
    """
    found = np.asarray(np.isfinite(pixels[:, _HEAD]).all(axis=(1, 2)))
    body = pixels[found]
    # Bent towards the camera the trunk looks short while the head does not: its usual length counts as well.
    trunk = measure_trunk(select_both_sides(body, "shoulder"), select_both_sides(body, "hip"))
    usual = float(np.nanpercentile(trunk, 75)) if np.isfinite(trunk).any() else 0.0
    face = body[:, _HEAD]
    # between the ears is the middle of the head, but the face is what must not be seen
    ears = (body[:, INDEX["left_ear"]] + body[:, INDEX["right_ear"]]) / 2
    centre = (ears + face.mean(axis=1)) / 2
    spread = np.linalg.norm(face - centre[:, None], axis=2).max(axis=1)
    least = np.full(len(body), 0.02 * max(width, height))
    trunk = np.fmax(np.nan_to_num(trunk), usual)
    return found, centre, np.maximum.reduce([RADIUS_TO_TRUNK * trunk, _RADIUS_TO_FACE * spread, least])


def hide_circle(rgb: Rgb, x: float, y: float, radius: float) -> None:
    """Make what lies in a circle coarse beyond recognition, in place.

    Parameters
    ----------
    rgb : (h, w, 3) writable picture.
    x, y, radius : pixels of this picture; may lie outside it.
    """
    height, width = rgb.shape[:2]
    left, right = (int(np.clip(x + sign * radius, 0, width)) for sign in (-1, 1))
    top, bottom = (int(np.clip(y + sign * radius, 0, height)) for sign in (-1, 1))
    right, bottom = min(right + 1, width), min(bottom + 1, height)
    if right <= left or bottom <= top:
        return
    part = rgb[top:bottom, left:right]
    down, across = np.ogrid[top:bottom, left:right]
    inside = (across - x) ** 2 + (down - y) ** 2 <= radius**2
    # a part cut off by the edge keeps the patch size of the whole head
    cells = max(1, round(_CELLS * max(part.shape[:2]) / (2 * radius)))
    part[inside] = _coarse(part, cells)[inside]


def hide_all_but_body(rgb: Rgb, pixels: Array) -> None:
    """Make coarse what is not near one person's limbs and trunk, so that nobody else is known; in place.

    Of others no face need be found for it, which in a small picture fails often. The head is not hidden.

    Parameters
    ----------
    rgb : (h, w, 3) writable picture.
    pixels : (33, 2) landmarks in pixels of this picture; without them all of it is made coarse.
    """
    import cv2

    near = np.zeros(rgb.shape[:2], np.uint8)
    ends = [pixels[[INDEX[start], INDEX[end]]] for start, end in BONES]
    sides = [select_both_sides(pixels[None], part) for part in ("shoulder", "hip")]
    if np.isfinite(pixels).all():
        width = max(1, round(LIMB_TO_TRUNK * float(measure_trunk(*sides)[0])))
        for start, end in ends:
            points = np.clip([start, end], -1e4, 1e4).astype(np.int32)
            cv2.polylines(near, [points], False, 1, width)
        trunk = np.concatenate([sides[0][0], sides[1][0][::-1]])
        cv2.fillConvexPoly(near, np.clip(trunk, -1e4, 1e4).astype(np.int32), 1)
    away = near == 0
    rgb[away] = _coarse(rgb, _WHOLE_CELLS)[away]


def _coarse(rgb: Rgb, cells: int) -> Rgb:
    """The picture's averages over so many patches along its longer side, run softly into each other."""
    import cv2

    height, width = rgb.shape[:2]
    patch = max(height, width) / cells
    few = (max(1, round(width / patch)), max(1, round(height / patch)))
    small = cv2.resize(np.ascontiguousarray(rgb), few, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
