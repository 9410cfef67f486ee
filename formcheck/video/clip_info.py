"""The facts about a clip, before and after its pictures are read."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formcheck.core.model import Array, ClipInfo


@dataclass(frozen=True, slots=True)
class ClipHead:
    """What is known of an opened clip before it is read to its end; fields as in `formcheck.core.model.ClipInfo`."""

    width: int
    height: int
    codec: str
    duration_hint_s: float | None
    """What the file says about its length, or None; the truth is known after reading."""


def make_clip_info(head: ClipHead, times: Sequence[float] | Array, name: str, sha256: str) -> ClipInfo:
    """What is known of a clip from the times of all its pictures, two at least, seconds from the first."""
    t = np.asarray(times, dtype=np.float64)
    steps = np.diff(t)
    return ClipInfo(
        name=name,
        sha256=sha256,
        width=head.width,
        height=head.height,
        duration_s=float(t[-1] + np.median(steps)),
        frames=len(t),
        frame_rate=float((len(t) - 1) / t[-1]),
        variable_rate=is_rate_variable(steps),
        codec=head.codec,
    )


def is_rate_variable(steps: Array) -> bool:
    """Whether frame intervals (seconds) vary more than rounding to milliseconds and a few lost frames explain."""
    spread = float(np.quantile(steps, 0.95) - np.quantile(steps, 0.05))
    return spread > max(0.1 * float(np.median(steps)), 0.0021)
