"""The plan for tracking a clip: the chunks it is cut into, and which of its pictures are tracked.

Both follow from the clip and what is seen in it, never from the machine, so that one process and many give the same
landmarks to the bit. A chunk begins at a key picture, where decoding can begin; its first half second is tracked and
discarded, because the pose model needs some pictures to settle on a person.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, inf

import numpy as np

from formcheck.core.model import Array, Mask
from formcheck.video.damage import UNKNOWN_EXTENT, Extent

CHUNK_S = 15.0
"""A chunk lasts at most about this long. Short enough that two or four processes end at about the same time."""
WHOLE_S = 16.0
"""Clips up to this length are tracked in one piece."""
WARM_UP_S = 0.5
"""Seconds at a chunk's beginning that are tracked and discarded; more brings the chunk no nearer to a track that
began earlier (`tools/benchmarks/speed.py` prints how near)."""
CHUNK_COUNTS = 4
"""Long clips have a multiple of this many chunks, so that 1, 2 and 4 processes share them evenly."""

TRACKED_PER_S = 15.0
"""So many pictures a second are tracked, of slower clips all. More change nothing in a review, at 10 half of the sets
are no longer counted right (docs/rendered-sets.md)."""
FINE_PER_S = 30.0
"""So many, where a stroke is fast."""
THINNED_FROM_HZ = 49.0
"""Of slower clips every picture is then tracked."""
EARLY = 0.02
"""A step of the clock begins so much of it early: times rounded to milliseconds then fall on the right side."""

SURVEY_POSITIONS = (0.0, 0.35, 0.65, 0.95)
"""Where the survey looks at a clip, as shares of its length."""
SURVEY_SPAN_S = 0.6
"""Length of a survey span, seconds, ..."""
LONG_SURVEY_SPAN_S = 4.0
"""... and where a clip allows only one or two, because decoding can begin at few places."""


@dataclass(frozen=True, slots=True)
class KeyPicture:
    """A picture at which decoding can begin."""

    t: float
    """Seconds from the first shown picture."""
    stamp: int
    """Presentation time in the units of the track."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """A stretch of a clip, from one moment up to but without another, seconds from the first shown picture."""

    key: int | None = None
    """Presentation time, in the units of the track, of the key picture to begin at; None: the clip's beginning."""
    from_s: float = 0.0
    until_s: float = inf
    unseen: tuple[int, ...] = ()
    """Presentation times, in the units of the track and in their order, of pictures that need not be decoded: they are
    not tracked at `TRACKED_PER_S`, and no other depends on them."""


WHOLE_CLIP = Chunk()


@dataclass(frozen=True, slots=True)
class Plan:
    """How a clip is tracked."""

    chunks: tuple[Chunk, ...] = (WHOLE_CLIP,)
    end_s: float = 0.0
    """Time of the last picture as far as it is known, 0 when it is not."""
    survey_spans: tuple[Chunk, ...] = (Chunk(None, 0.0, LONG_SURVEY_SPAN_S),)
    """Short stretches spread over the clip in which all people are looked for beforehand."""
    extent: Extent = UNKNOWN_EXTENT
    """What the file states of its length."""

    @property
    def whole(self) -> "Plan":
        """The same clip in one piece."""
        return Plan((WHOLE_CLIP,), self.end_s, extent=self.extent)

    @property
    def without_unseen(self) -> tuple[Chunk, ...]:
        """The chunks, each to be decoded with all its pictures."""
        return tuple(replace(chunk, unseen=()) for chunk in self.chunks)


def plan_chunks(
    keys: Sequence[KeyPicture], end_s: float, *, chunk_s: float = CHUNK_S, whole_s: float = WHOLE_S
) -> tuple[Chunk, ...]:
    """The chunks of a clip.

    Parameters
    ----------
    keys : pictures at which decoding can begin, in the order of time; none: the clip stays whole.
    end_s : time of the last picture.
    chunk_s, whole_s : see `CHUNK_S`, `WHOLE_S`.

    Each border lies `WARM_UP_S` after the key picture nearest to where it should be; borders that come nearer than a
    quarter of a chunk to each other or to an end are left out.
    """
    if end_s <= whole_s or not keys:
        return (WHOLE_CLIP,)
    count = CHUNK_COUNTS * ceil(end_s / (CHUNK_COUNTS * chunk_s))
    least = chunk_s / 4
    begins: list[KeyPicture] = []
    for number in range(1, count):
        wanted = number * end_s / count - WARM_UP_S
        key = min(keys, key=lambda item: abs(item.t - wanted))
        before = begins[-1].t if begins else 0.0
        if key.t - before >= least and end_s - key.t - WARM_UP_S >= least:
            begins.append(key)
    borders = [0.0, *(key.t + WARM_UP_S for key in begins), inf]
    stamps = [None, *(key.stamp for key in begins)]
    return tuple(Chunk(stamp, start, end) for stamp, start, end in zip(stamps, borders[:-1], borders[1:], strict=True))


def choose_survey_spans(keys: Sequence[KeyPicture], end_s: float) -> tuple[Chunk, ...]:
    """The spans a survey looks at: the clip's beginning, and the key pictures nearest to `SURVEY_POSITIONS`.

    Parameters
    ----------
    keys, end_s : as for `plan_chunks`; without keys only the beginning is cheap to decode.
    """
    survey_spans = [Chunk(None, 0.0, SURVEY_SPAN_S)]
    for share in SURVEY_POSITIONS[1:]:
        if keys:
            key = min(keys, key=lambda item: abs(item.t - share * end_s))
            if key.t > survey_spans[-1].from_s + SURVEY_SPAN_S:
                survey_spans.append(Chunk(key.stamp, key.t, key.t + SURVEY_SPAN_S))
    if len(survey_spans) < 3:
        return tuple(replace(span, until_s=span.from_s + LONG_SURVEY_SPAN_S) for span in survey_spans)
    return tuple(survey_spans)


def take_at_rate(t: Array, rate: float, before: float | None = None) -> Mask:
    """(n,) which pictures are tracked for so many a second: the first in each step of a clock of that rate.

    Parameters
    ----------
    t : (n,) seconds from the first shown picture, increasing.
    before : the time of the picture before them; None: the first is taken in any case.
    """
    steps = np.floor(np.asarray(t) * rate + EARLY)
    first = -np.inf if before is None else np.floor(before * rate + EARLY)
    return np.asarray(np.diff(steps, prepend=first) > 0)


def choose_fine_rate(t: Array) -> float | None:
    """Pictures a second that are tracked where a stroke is fast, of pictures at times t (n,); None: all of them."""
    return FINE_PER_S if len(t) - 1 > THINNED_FROM_HZ * (t[-1] - t[0]) else None
