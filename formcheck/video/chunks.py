"""The plan for tracking a clip: the chunks it is cut into, and which of its pictures are tracked.

Both follow from the clip alone, never from the machine, so that one process and many give the same landmarks to the
bit. A chunk begins at a key picture, where decoding can begin; its first half second is tracked and discarded, because
the pose model needs some pictures to settle on a person.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, inf

import numpy as np

from formcheck.core.model import Array
from formcheck.video.damage import UNKNOWN_EXTENT, Extent

CHUNK_S = 15.0
"""A chunk lasts at most about this long. Short enough that two or four processes end at about the same time."""
WHOLE_S = 16.0
"""Clips up to this length are tracked in one piece."""
WARM_UP_S = 0.5
"""Seconds at a chunk's beginning that are tracked and discarded; more brings the chunk no nearer to a track that
began earlier (`tools/benchmarks/throughput.py` prints how near)."""
CHUNK_COUNTS = 4
"""Long clips have a multiple of this many chunks, so that 1, 2 and 4 processes share them evenly."""

TRACKED_PER_S = 30.0
"""Faster clips are tracked at about this rate."""
SUBSAMPLED_FROM_HZ = 49.0
"""Clips with more pictures a second than this are subsampled to every second, third, ... picture.

Measured on a rendered set at 60 a second whose joint angles are known: at 30 tracked pictures a second the arm
raise is off by 1.96° and 2.59° (root mean square, left and right), at 60 by 1.96° and 2.60°; peaks move by 0.11° at
most, the lengths of the phases by 0.03 s at most."""
LAG = 30

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


WHOLE_CLIP = Chunk()


@dataclass(frozen=True, slots=True)
class Subsampling:
    """Which pictures of a fast clip are tracked: the first in each span of time.

    The spans begin half a picture early: with an even rate their borders then never fall on a picture.
    """

    picture_s: float
    """Seconds from picture to picture, in the main."""
    every: int
    """Pictures a span."""

    def selects(self, t: float, before: float | None) -> bool:
        """Whether a picture is tracked; seconds of it and of the one shown before it, None when there is none."""
        return before is None or self._find_span(t) != self._find_span(before)

    def _find_span(self, t: float) -> int:
        return floor((t / self.picture_s + 0.5) / self.every)


@dataclass(frozen=True, slots=True)
class Plan:
    """How a clip is tracked."""

    chunks: tuple[Chunk, ...] = (WHOLE_CLIP,)
    subsampling: Subsampling | None = None
    """None: every picture is tracked."""
    end_s: float = 0.0
    """Time of the last picture as far as it is known, 0 when it is not."""
    survey_spans: tuple[Chunk, ...] = (Chunk(None, 0.0, LONG_SURVEY_SPAN_S),)
    """Short stretches spread over the clip in which all people are looked for beforehand."""
    extent: Extent = UNKNOWN_EXTENT
    """What the file states of its length."""

    @property
    def whole(self) -> "Plan":
        """The same clip in one piece."""
        return Plan((WHOLE_CLIP,), self.subsampling, self.end_s, extent=self.extent)


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


def choose_subsampling(picture_s: float) -> Subsampling | None:
    """The subsampling of a clip with so many seconds from picture to picture; None: all are tracked."""
    rate = 1 / picture_s if picture_s > 0 else 0.0
    return Subsampling(picture_s, max(2, round(rate / TRACKED_PER_S))) if rate > SUBSAMPLED_FROM_HZ else None


def compute_picture_step(t: Array) -> float:
    """Seconds from picture to picture in the main.

    Parameters
    ----------
    t : (n,) seconds, increasing, n at least 2. The step is that of the median stretch of `LAG` pictures, so that
        rounded times do not matter.
    """
    lag = min(LAG, len(t) - 1)
    return float(np.median(t[lag:] - t[:-lag])) / lag
