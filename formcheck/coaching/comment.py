"""What the coach says about a set: typed words, a voice note beside them, pen strokes on the picture of a moment."""

import io
import math
import wave
from dataclasses import dataclass

from formcheck.core.errors import UsageError

LONGEST_COMMENT = 600
MOST_STROKES = 60
MOST_POINTS = 600
LONGEST_VOICE_S = 90
_MOST_RATE_HZ = 48_000
MOST_BYTES = 4 * _MOST_RATE_HZ * (LONGEST_VOICE_S + 1)
"""No voice note that is taken is larger: two channels of two bytes a sample."""
_FARTHEST = 100_000.0

Stroke = tuple[tuple[float, float], ...]
"""One line of the pen: x to the right and y down, pixels of the upright clip."""


@dataclass(frozen=True, slots=True)
class CoachComment:
    """One comment in the coach's own words."""

    text: str
    """What is typed; of a voice note what it says, for those who read."""
    at_s: float | None = None
    """The moment it is about, seconds of the clip; None: the whole set."""
    strokes: tuple[Stroke, ...] = ()
    """Drawn on the picture of that moment."""

    def __post_init__(self) -> None:
        if not 0 < len(self.text) <= LONGEST_COMMENT:
            raise UsageError(f"A comment has between 1 and {LONGEST_COMMENT} characters.")
        if self.at_s is not None and not (math.isfinite(self.at_s) and self.at_s >= 0):
            raise UsageError("The moment of a comment is a time of the clip, in seconds.")
        if self.strokes and self.at_s is None:
            raise UsageError("What is drawn on a picture needs the moment of the picture.")
        if len(self.strokes) > MOST_STROKES or any(not 0 < len(item) <= MOST_POINTS for item in self.strokes):
            raise UsageError(f"A drawing has at most {MOST_STROKES} strokes of at most {MOST_POINTS} points.")
        if not all(abs(value) <= _FARTHEST for stroke in self.strokes for point in stroke for value in point):
            raise UsageError("A point of a drawing is a place in the picture, in pixels.")


def clean_voice(wav: bytes) -> bytes:
    """A voice note as plain sound: a WAV file of 16-bit samples and nothing else (UsageError when it is none).

    Whatever else stands in the file (who recorded it, when, with what) is left behind.
    """
    try:
        with wave.open(io.BytesIO(wav)) as source:
            channels, width, rate = source.getnchannels(), source.getsampwidth(), source.getframerate()
            if width != 2 or channels not in (1, 2) or not 4000 <= rate <= _MOST_RATE_HZ:
                raise UsageError("This recording cannot be used: record it again in the browser.")
            samples = source.readframes(LONGEST_VOICE_S * rate + 1)
    except (wave.Error, EOFError, ValueError) as error:
        raise UsageError("This recording cannot be read: record it again in the browser.") from error
    frames = len(samples) // (2 * channels)
    if not frames:
        raise UsageError("This recording is empty.")
    if frames > LONGEST_VOICE_S * rate:
        raise UsageError(f"A voice note lasts at most {LONGEST_VOICE_S} seconds.")
    out = io.BytesIO()
    with wave.open(out, "wb") as target:
        target.setnchannels(channels)
        target.setsampwidth(2)
        target.setframerate(rate)
        target.writeframes(samples[: frames * 2 * channels])
    return out.getvalue()
