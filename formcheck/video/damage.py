"""Damage of a clip: its length by header and packets, compared with the pictures that were decoded.

A picture counts as read only when it decoded without error and no picture it depends on was lost: after a
damaged picture everything is lost up to the next key picture. What a decoder cannot notice goes unnoticed here too: a
single turned bit in most codecs but H.264 and MPEG-4; and a stream without a length (MPEG-TS, a live recording) does
not say that its end is missing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formcheck.core.errors import FILE, ClipError
from formcheck.core.landmarks import Array, ClipDamage

LEAST_READ = 0.5
"""A clip of which less than this share could be read is refused: the rest says little about the set."""
NOTICED_S = 0.5
"""Headers round, and a film cut without coding it anew may begin with pictures that depend on what was cut away: what
lacks less than this at either end is whole."""
NOTICED_SHARE = 0.02
LATE_S, LATE_SHARE = 1.0, 0.05
"""Pictures so much later than the stated end contradict it."""
LEAST_BACKWARD, BACKWARD_SHARE = 3, 0.01
"""From so many pictures with a time before the one shown earlier the times cannot be trusted."""
SHORTEST_STEP_S = 0.0004
"""No camera that records a set takes pictures faster: such times are not true."""
LEANING_S = 0.1
"""So long before a lost picture there may be some that depend on it: they are shown before it and stored behind it."""
MOST_HOLES = 10_000
Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Extent:
    """What a file says of its film's length, and where packets are missing; seconds from the first shown picture."""

    first_s: float = 0.0
    """Time of the first picture that was to be shown; below 0 where the first ones could not be decoded."""
    end_s: float = 0.0
    """When the film ends by its header and its packets; 0 where neither says."""
    holes: tuple[Span, ...] = ()
    """Last picture before bytes that held packets once, and the first key picture after, infinite where none is."""
    read_share: float = 1.0
    """Of the file's bytes, as many as it says it has; below 1 only where no length in seconds is stated."""
    ordered: bool = False
    """The container gives every picture its own presentation time, so that none can run back."""
    contradicted: bool = False
    """The packets' times contradict the header."""


UNKNOWN_EXTENT = Extent()


def assess_damage(times: Array, lost: Sequence[Span], backward: int, extent: Extent, clip: Path) -> ClipDamage | None:
    """What a clip lost; None for a whole one.

    Parameters
    ----------
    times : (n,) seconds of the pictures that were read.
    lost : stretches in which pictures were damaged: time of the last picture read before and the first after,
        infinite where there is none.
    backward : pictures whose time came before the one shown earlier.
    extent : what the file states of its length.

    Raises ClipError when too little could be read, or the times cannot be trusted.
    """
    if len(times) < 2:
        raise ClipError(f"The clip {FILE} is damaged: no moving pictures could be read; copy it again.", path=clip)
    step = float(np.median(np.diff(times)))
    few = backward < max(LEAST_BACKWARD, BACKWARD_SHARE * len(times))
    if extent.contradicted or step < SHORTEST_STEP_S or (extent.ordered and not few):
        raise ClipError(f"The clip {FILE} is damaged: its time stamps contradict each other; copy it again.", path=clip)
    first = extent.first_s if extent.first_s < -NOTICED_S else 0.0
    end = max(extent.end_s, (float(times[-1]) + step) / extent.read_share)
    spans = [*lost, *extent.holes, *_find_missing_tail(times, step, end)]
    if any(until == np.inf for _, until in lost):
        end = max(end, float(times[-1]) + 2 * step)  # one picture at least
    if first < 0.0:
        spans.append((-np.inf, 0.0))
    lost_s = sum(_compute_lost_s(span, step, first, end) for span in _merge_spans(spans))
    if lost_s < step / 2:
        return None
    length = round(end - first, 1)
    read = round(min(end - first - lost_s, length - 0.1), 1)  # what lost anything never reads as whole
    if read < LEAST_READ * length:
        raise ClipError(
            f"The clip {FILE} is damaged: only {max(read, 0.0):.1f} of {length:.1f} seconds could be read, "
            "too little for a review; copy it from the phone again.",
            path=clip,
        )
    return ClipDamage(read, length)


def _find_missing_tail(times: Array, step: float, end: float) -> list[Span]:
    """The stretch from the last picture read to the film's end, if it is too long for a rounded header."""
    short = end - float(times[-1]) - step
    return [(float(times[-1]), np.inf)] if short > max(NOTICED_S, NOTICED_SHARE * end) else []


def _merge_spans(spans: Sequence[Span]) -> list[Span]:
    """The stretches in order, those that touch made one."""
    joined: list[Span] = []
    for after, until in sorted(spans):
        if joined and after <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(until, joined[-1][1]))
        else:
            joined.append((after, until))
    return joined


def _compute_lost_s(span: Span, step: float, first: float, end: float) -> float:
    """How long a lost stretch is: the picture before it, where there is one, was still shown for a step."""
    after, until = span
    begin = first if after == -np.inf else after + step
    return max(0.0, min(until, end) - begin)


def select_sound_pictures(t: Array, lost: Sequence[Span], holes: Sequence[Span]) -> NDArray[np.bool_]:
    """Which pictures, by their times (n,), are sound: none in a lost stretch, none that may depend on what is in it."""
    sound = np.ones(len(t), dtype=bool)
    for after, until in (*lost, *holes):
        sound &= ~((t > after - LEANING_S) & (t < until))
    return sound
