"""The clip with the measured skeleton drawn into it, as a film every browser plays; single frames of a clip."""

import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from formcheck.capture.clip_file import ClipLimits
from formcheck.capture.video import ClipReader, read_ahead
from formcheck.errors import OutputError
from formcheck.model import LandmarkRecording, Rep
from formcheck.report.drawing import Rgb, draw_caption, draw_skeleton
from formcheck.report.phases import PHASE_WORDS, phase_spans

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

CLOCK = 90_000
"""Ticks a second of the film's time stamps, the usual clock of moving pictures (ISO/IEC 13818-1)."""

FILM_SIDE = 1280
"""Longer side of the film in pixels."""


@dataclass(frozen=True, slots=True)
class Caption:
    """One line of text shown from start_s until end_s."""

    start_s: float
    end_s: float
    text: str


def rep_captions(reps: Sequence[Rep], first: Literal["concentric", "eccentric"] = "concentric") -> list[Caption]:
    """Number and phase of every rep, in the order of time."""
    captions = []
    for rep in reps:
        name = f"Rep {rep.number}" if rep.complete else f"Rep {rep.number}, partial"
        spans = phase_spans(rep, first)
        captions += [Caption(span.start_s, span.end_s, f"{name}: {PHASE_WORDS[span.name]}") for span in spans]
        if not spans:
            captions.append(Caption(rep.start_s, rep.end_s, name))
    return captions


def write_overlay(
    clip_path: str | Path,
    recording: LandmarkRecording,
    out_path: str | Path,
    *,
    reps: Sequence[Rep] = (),
    captions: Sequence[Caption] | None = None,
    on_progress: Callable[[float, float | None], None] | None = None,
    limits: ClipLimits | None = None,
    max_side: int = FILM_SIDE,
) -> None:
    """Write the clip with skeleton and captions as H.264 MP4 with the clip's own frame times, starting at 0.

    Parameters
    ----------
    clip_path, recording : the clip and its landmarks.
    out_path : the film; a file of that name is replaced in one step, when the film is whole.
    reps : captioned with number and phase.
    captions : shown instead of those made from the reps; where two overlap, the one that starts later.
    on_progress : called with seconds done and seconds in all after every frame.
    limits : which clips are refused.
    max_side : longer side of the film in pixels.

    Raises ClipError when the clip cannot be read, OutputError when the film cannot be written.
    """
    shown = sorted(rep_captions(reps) if captions is None else captions, key=lambda caption: caption.start_s)
    starts = [caption.start_s for caption in shown]
    total = recording.clip.duration_s
    scale = min(1.0, max_side / max(recording.clip.width, recording.clip.height))
    tolerance = 0.5 * float(np.median(np.diff(recording.t))) if len(recording.t) > 1 else inf
    with (
        ClipReader(clip_path, limits=limits, max_side=max_side) as reader,
        _film(Path(out_path), recording.clip.frame_rate) as film,
        closing(read_ahead(iter(reader))) as ahead,
    ):
        for t, rgb in ahead:
            picture = rgb if rgb.flags.writeable else rgb.copy()
            index = _nearest(recording.t, t)
            if index is not None and abs(recording.t[index] - t) <= tolerance:
                draw_skeleton(picture, recording.pixels[index] * scale, recording.visibility[index])
            at = int(np.searchsorted(starts, t, side="right")) - 1
            if at >= 0 and t < shown[at].end_s:
                draw_caption(picture, shown[at].text)
            film.add(t, picture)
            if on_progress is not None:
                on_progress(min(t, total), total)
    if on_progress is not None:
        on_progress(total, total)


def key_frames(
    path: str | Path, times: Sequence[float], *, max_side: int | None = 720, limits: ClipLimits | None = None
) -> list[Rgb]:
    """The upright pictures nearest to the given times, in the order of the times, read in one pass.

    Parameters
    ----------
    path : the clip.
    times : seconds; times beyond the clip give its first or last picture.
    max_side : longest side of the pictures in pixels.
    limits : which clips are refused.

    Raises ClipError when the clip cannot be read.
    """
    order = sorted(range(len(times)), key=lambda index: times[index])
    found: dict[int, Rgb] = {}
    with ClipReader(path, max_side=max_side, limits=limits) as reader:
        before: tuple[float, VideoFrame] | None = None
        for t, picture in reader.pictures():
            while order and times[order[0]] <= t:
                wanted = times[order[0]]
                nearer_before = before is not None and wanted - before[0] < t - wanted
                found[order.pop(0)] = reader.rgb(before[1] if nearer_before and before else picture)
            before = (t, picture)
            if not order:
                break
        if before is not None:
            for index in order:
                found[index] = reader.rgb(before[1])
    return [found[index] for index in range(len(times))]


def _nearest(times: "np.ndarray[Any, np.dtype[np.float64]]", t: float) -> int | None:
    if len(times) == 0:
        return None
    right = int(np.clip(np.searchsorted(times, t), 0, len(times) - 1))
    left = max(0, right - 1)
    return left if t - times[left] < times[right] - t else right


class _Film:
    """An H.264 MP4 in the making."""

    def __init__(self, container: Any, rate: float, path: Path):
        self._container = container
        self._rate = max(rate, 1.0)
        self._path = path
        self._stream: Any = None

    def add(self, t: float, rgb: Rgb) -> None:
        """One picture at t seconds."""
        from av.video.frame import VideoFrame

        with _writing(self._path):
            if self._stream is None:
                self._stream = self._make_stream(rgb.shape[1], rgb.shape[0])
            width, height = self._stream.width, self._stream.height
            if rgb.shape[:2] != (height, width):  # yuv420p needs even sides: the last row or column is repeated
                rgb = np.pad(rgb, ((0, height - rgb.shape[0]), (0, width - rgb.shape[1]), (0, 0)), mode="edge")
            frame = VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24")
            frame = frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
            frame.pts, frame.time_base = round(t * CLOCK), Fraction(1, CLOCK)
            self._container.mux(self._stream.encode(frame))

    def finish(self) -> None:
        """Write what the encoder still holds, and the index."""
        with _writing(self._path):
            if self._stream is not None:
                self._container.mux(self._stream.encode(None))
            self._container.close()

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
def _film(path: Path, rate: float) -> Iterator[_Film]:
    """A film under a temporary name, moved to its own name when it is whole."""
    import av

    temporary: Path | None = None
    try:
        with _writing(path):
            with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".overlay-", suffix=".part", delete=False) as file:
                temporary = Path(file.name)
            container = av.open(f"file:{temporary}", "w", format="mp4", options={"movflags": "+faststart"})
        try:
            film = _Film(container, rate, path)
            yield film
            film.finish()
        finally:
            with suppress(OSError, ValueError):  # closing again is allowed; after an error nothing is kept
                container.close()
        with _writing(path):
            temporary.chmod(0o644)
            temporary.replace(path)
            temporary = None
    finally:
        if temporary is not None:
            with suppress(OSError):
                temporary.unlink()


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    from av.error import FFmpegError

    try:
        yield
    except (FFmpegError, OSError) as error:
        raise OutputError(f"The film {path} cannot be written: {error.strerror or 'the encoder failed'}.") from None
