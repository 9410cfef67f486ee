"""Measures the brightness of a clip on the lifter and around them."""

from pathlib import Path

import numpy as np

from formcheck.core.model import LandmarkRecording
from formcheck.signals.placement import Light
from formcheck.signals.skeleton import BODY, INDEX
from formcheck.video.reader import ClipReader

_SIDE = 240
_LUMA = np.array([0.2126, 0.7152, 0.0722]) / 255.0
"""Weights of red, green and blue in the brightness of a picture (ITU-R BT.709)."""


def measure_light(clip: Path, recording: LandmarkRecording, *, samples: int = 8) -> Light | None:
    """Median brightness on the lifter's torso and thighs and of the picture around them; None when nobody is found.

    Parameters
    ----------
    samples : pictures measured, evenly spread over the clip.

    Raises ClipError when the clip cannot be read.
    """
    found = np.flatnonzero(np.isfinite(recording.pixels[:, INDEX["nose"], 0]))
    if len(found) == 0:
        return None
    wanted = set(found[np.linspace(0, len(found) - 1, samples).astype(int)].tolist())
    lifter, around = [], []
    with ClipReader(clip, max_side=_SIDE) as reader:
        for index, (_, picture) in enumerate(reader.pictures()):
            if index not in wanted or index >= len(recording.t):
                continue
            luma = reader.rgb(picture) @ _LUMA
            scale = luma.shape[1] / recording.clip.width
            body = recording.pixels[index][[INDEX[name] for name in BODY]] * scale
            (x0, y0), (x1, y1) = body.min(axis=0), body.max(axis=0)
            rows, columns = np.indices(luma.shape)
            inside = (rows >= y0) & (rows <= y1) & (columns >= x0) & (columns <= x1)
            torso = recording.pixels[index][[INDEX[f"{s}_{p}"] for s in ("left", "right") for p in ("shoulder", "hip")]]
            (a0, b0), (a1, b1) = (torso * scale).min(axis=0), (torso * scale).max(axis=0)
            core = (rows >= b0) & (rows <= b1) & (columns >= a0 - 1) & (columns <= a1 + 1)
            if core.any():
                lifter.append(float(np.median(luma[core])))
            if (~inside).any():
                around.append(float(np.median(luma[~inside])))
    if not lifter or not around:
        return None
    return Light(float(np.median(lifter)), float(np.median(around)))
