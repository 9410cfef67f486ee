"""Encodes video that every browser plays: H.264 in MP4 with a clip's own frame times, starting at 0."""

from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from formcheck.core.atomic_write import make_part_file
from formcheck.core.errors import FILE, OutputError
from formcheck.core.model import ProgressReport
from formcheck.video.clip_file import open_clip
from formcheck.video.orientation import Rgb
from formcheck.video.read_ahead import read_ahead
from formcheck.video.reader import ClipReader

CLOCK = 90_000
"""Ticks a second of the film's time stamps, the usual clock of moving pictures (ISO/IEC 13818-1)."""

SOUND_HZ = 48_000
"""Samples of sound a second, the usual rate beside moving pictures."""

FILM_SIDE = 1280
"""Longer side of the film in pixels."""


def write_film(
    clip_path: str | Path,
    out_path: str | Path,
    *,
    rate: float,
    on_progress: ProgressReport | None = None,
) -> None:
    """Write the clip's pictures anew, upright and without sound, for a browser that cannot play the clip itself.

    Parameters
    ----------
    clip_path, out_path : the clip; the film, which is replaced in one step when it is whole.
    rate : mean pictures a second of the clip.
    on_progress : called with seconds done and seconds in all (None while unknown) after every picture.

    Raises ClipError when the clip cannot be read, OutputError when the film cannot be written.
    """
    with (
        ClipReader(clip_path, max_side=FILM_SIDE) as reader,
        open_film(Path(out_path), rate) as film,
        closing(read_ahead(iter(reader))) as ahead,
    ):
        total = reader.duration_hint_s
        for t, rgb in ahead:
            film.add(t, rgb)
            if on_progress is not None:
                on_progress(t if total is None else min(t, total), total)


@dataclass(frozen=True, slots=True)
class SoundPart:
    """The sound of a part of a clip."""

    clip: Path
    start_s: float
    """Seconds from the clip's first shown picture."""
    end_s: float
    offset_s: float
    """When that picture is shown, in the file's own seconds."""


class Film:
    """An H.264 MP4 in the making."""

    def __init__(self, container: Any, rate: float, path: Path, sound: "SoundPart | None" = None):
        self._container = container
        self._sound = sound
        self._sound_stream: Any = None
        self._rate = max(rate, 1.0)
        self._path = path
        self._stream: Any = None

    def add(self, t: float, rgb: Rgb) -> None:
        """One picture at t seconds."""
        from av.video.frame import VideoFrame

        with _explain_failure(self._path):
            if self._stream is None:
                self._stream = self._make_stream(rgb.shape[1], rgb.shape[0])
                if self._sound is not None:  # before the header is written, which the first picture does
                    self._sound_stream = self._container.add_stream("aac", rate=SOUND_HZ, layout="mono")
            width, height = self._stream.width, self._stream.height
            if rgb.shape[:2] != (height, width):  # yuv420p needs even sides: the last row or column is repeated
                rgb = np.pad(rgb, ((0, height - rgb.shape[0]), (0, width - rgb.shape[1]), (0, 0)), mode="edge")
            frame = VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24")
            frame = frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
            frame.pts, frame.time_base = round(t * CLOCK), Fraction(1, CLOCK)
            self._container.mux(self._stream.encode(frame))

    def finish(self) -> None:
        """Write what the encoder still holds, and the index."""
        with _explain_failure(self._path):
            if self._stream is not None:
                self._container.mux(self._stream.encode(None))
            if self._sound is not None and self._sound_stream is not None:
                self._add_sound(self._sound)
            self._container.close()

    def _add_sound(self, sound: "SoundPart") -> None:
        """Encode the part of the clip's sound; nothing where it has none, or none that can be decoded."""
        import av
        from av.error import FFmpegError

        resampler = av.AudioResampler(format="fltp", layout="mono", rate=SOUND_HZ)
        with closing(open_clip(sound.clip)) as source:
            try:
                for frame in source.decode(audio=0) if source.streams.audio else ():
                    at_s = (float(frame.time) if frame.time is not None else 0.0) - sound.offset_s
                    if at_s > sound.end_s:
                        break
                    if at_s < sound.start_s:
                        continue
                    for part in resampler.resample(frame):
                        part.pts = None  # counted on from the first one
                        self._container.mux(self._sound_stream.encode(part))
            except FFmpegError:
                pass  # what could be decoded up to the damage is in it
        self._container.mux(self._sound_stream.encode(None))

    def _make_stream(self, width: int, height: int) -> Any:
        stream = self._container.add_stream("libx264", rate=Fraction(self._rate).limit_denominator(1000))
        stream.width, stream.height, stream.pix_fmt = width + width % 2, height + height % 2, "yuv420p"
        context = stream.codec_context
        context.time_base = stream.time_base = Fraction(1, CLOCK)
        # pictures in showing order: the first time stamp is 0 without an edit list; one key frame a second seeks fast
        context.options = {"preset": "veryfast", "crf": "23", "bf": "0"}
        context.gop_size = max(1, round(self._rate))
        context.colorspace = context.color_primaries = context.color_trc = context.color_range = 1  # BT.709, limited
        return stream


@contextmanager
def open_film(path: Path, rate: float, *, sound: SoundPart | None = None, title: str = "") -> Iterator[Film]:
    """A film under a temporary name, moved to its own name when it is whole; nothing of the clip's metadata is in it.

    Parameters
    ----------
    sound : the film's sound; none without it.
    title : written into the film as its only description.
    """
    import av

    with ExitStack() as stack:
        with _explain_failure(path):
            part = stack.enter_context(make_part_file(path))
            # bitexact: no name and version of the encoder's library, which the muxer else writes beside the title
            options = {"movflags": "+faststart", "fflags": "+bitexact"}
            container = av.open(f"file:{part}", "w", format="mp4", options=options)
            if title:
                container.metadata["title"] = title
        try:
            film = Film(container, rate, path, sound)
            yield film
            film.finish()
        finally:
            with suppress(OSError, ValueError):  # closing again is allowed; after an error nothing is kept
                container.close()
        with _explain_failure(path):
            part.replace(path)


@contextmanager
def _explain_failure(path: Path) -> Iterator[None]:
    from av.error import FFmpegError

    try:
        yield
    except (FFmpegError, OSError) as error:
        raise OutputError(
            f"The film {FILE} cannot be written: {error.strerror or 'the encoder failed'}.", path=path
        ) from None
