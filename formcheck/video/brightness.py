"""Measures the brightness of a clip on the lifter and around them."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from formcheck.core.model import Array, LandmarkRecording, Mask
from formcheck.signals.placement import Light
from formcheck.signals.skeleton import BODY, INDEX, TORSO
from formcheck.video.reader import ClipReader

_SIDE = 240
_SAMPLES = 8
"""Pictures measured, evenly spread over the clip."""
_LUMA = np.array([0.2126, 0.7152, 0.0722]) / 255.0
"""Weights of red, green and blue in the brightness of a picture (ITU-R BT.709)."""


def measure_light(
    clip: Path,
    recording: LandmarkRecording,
) -> Light | None:
    """Median brightness on the lifter's torso and thighs and of the picture around them; None when nobody is found.

    Raises ClipError when the clip cannot be read.
    """
    found = np.flatnonzero(np.isfinite(recording.pixels[:, INDEX["nose"], 0]))
    if len(found) == 0:
        return None
    wanted = set(found[np.linspace(0, len(found) - 1, _SAMPLES).astype(int)].tolist())
    lifter, around = [], []
    with ClipReader(clip, max_side=_SIDE) as reader:
        for index, (_, picture) in enumerate(reader.pictures()):
            if index not in wanted or index >= len(recording.t):
                continue
            luma = reader.rgb(picture) @ _LUMA
            points = recording.pixels[index] * (luma.shape[1] / recording.clip.width)
            core, outside = _select_box(luma, points, TORSO, 1.0), ~_select_box(luma, points, BODY)
            if core.any():
                lifter.append(float(np.median(luma[core])))
            if outside.any():
                around.append(float(np.median(luma[outside])))
    if not lifter or not around:
        return None
    return Light(float(np.median(lifter)), float(np.median(around)))


def _select_box(luma: Array, points: Array, names: Iterable[str], room: float = 0.0) -> Mask:
    """(h, w) the pixels in the box around some landmarks, with room to its left and right."""
    box = points[[INDEX[name] for name in names]]
    (left, top), (right, bottom) = box.min(axis=0), box.max(axis=0)
    rows, columns = np.indices(luma.shape)
    inside = (rows >= top) & (rows <= bottom) & (columns >= left - room) & (columns <= right + room)
    return np.asarray(inside)
