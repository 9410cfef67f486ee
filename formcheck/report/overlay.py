"""The clip with the measured skeleton drawn into it, as a film every browser plays; single frames of a clip."""

from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from formcheck.core.model import Array, LandmarkRecording, ProgressReport, Rep
from formcheck.privacy.other_faces import find_covers
from formcheck.report.body_marks import SHOWN_S, BodyMark
from formcheck.report.phases import PHASE_WORDS, FirstPhase, list_phases
from formcheck.signals.interpolation import compute_landmarks_at
from formcheck.video.drawing import draw_caption, draw_skeleton
from formcheck.video.encoder import FILM_SIDE, SoundPart, open_film
from formcheck.video.mark_drawing import draw_mark
from formcheck.video.orientation import Rgb
from formcheck.video.read_ahead import read_ahead
from formcheck.video.reader import ClipReader

if TYPE_CHECKING:
    from av.video.frame import VideoFrame


@dataclass(frozen=True, slots=True)
class Caption:
    """One line of text shown from start_s until end_s."""

    start_s: float
    end_s: float
    text: str


@dataclass(frozen=True, slots=True)
class FilmPart:
    """What of a clip becomes a film of its own, and how it is played."""

    start_s: float
    end_s: float
    speed: float = 1.0
    """Below 1: slow motion. No picture is made up, each is only shown longer."""
    sound: bool = False
    """Whether the clip's sound is in it, which only full speed lets one understand."""
    title: str = ""
    """Written into the film; nothing is where it is empty."""

    def find_sound(self, reader: ClipReader) -> SoundPart | None:
        """The sound that belongs to it."""
        wanted = self.sound and self.speed == 1.0
        return SoundPart(reader.clip, self.start_s, self.end_s, reader.start_s) if wanted else None


def make_captions(reps: Sequence[Rep], first: FirstPhase = "concentric") -> list[Caption]:
    """Number and phase of every rep, in the order of time."""
    captions = []
    for rep in reps:
        name = f"Rep {rep.number}" if rep.complete else f"Rep {rep.number}, partial"
        spans = list_phases(rep, first)
        captions += [Caption(span.start_s, span.end_s, f"{name}: {PHASE_WORDS[span.name]}") for span in spans]
        if not spans:
            captions.append(Caption(rep.start_s, rep.end_s, name))
    return captions


def write_overlay(
    clip_path: str | Path,
    recording: LandmarkRecording,
    out_path: str | Path,
    *,
    captions: Sequence[Caption] = (),
    marks: Sequence[BodyMark] = (),
    skeleton: bool = True,
    blur_faces: bool = False,
    faces_file: Path | None = None,
    on_progress: ProgressReport | None = None,
    part: FilmPart | None = None,
) -> None:
    """Write the clip with skeleton and captions as H.264 MP4 with the clip's own frame times, starting at 0.

    Parameters
    ----------
    clip_path, recording : the clip and its landmarks.
    out_path : the film; a file of that name is replaced in one step, when the film is whole.
    captions : of two that overlap the one that starts later is shown.
    marks : drawn on the body about their moments.
    skeleton : whether the skeleton is drawn.
    blur_faces : make the lifter's head unrecognisable in every picture, where it is not known the whole picture,
        and every other face that is found (`formcheck.privacy.other_faces`).
    faces_file : a file in which those found are stored.
    on_progress : called with seconds done and seconds in all after every frame.
    part : what of the clip is written, and how; all of it as it is without one.

    Raises ClipError when the clip cannot be read, OutputError when the film cannot be written, PoseModelError when
    faces are to be covered and the pose model cannot be loaded.
    """
    shown = sorted(captions, key=lambda caption: caption.start_s)
    starts = [caption.start_s for caption in shown]
    part = part or FilmPart(0.0, recording.clip.duration_s + 1.0)
    total = min(recording.clip.duration_s, part.end_s)
    covers = find_covers(clip_path, recording, faces_file=faces_file) if blur_faces else ()
    scale = min(1.0, FILM_SIDE / max(recording.clip.width, recording.clip.height))
    begin: float | None = None
    with (
        ClipReader(clip_path, max_side=FILM_SIDE) as reader,
        open_film(
            Path(out_path), recording.clip.frame_rate * part.speed, sound=part.find_sound(reader), title=part.title
        ) as film,
        closing(read_ahead(_read_part(reader, part))) as ahead,
    ):
        for t, rgb in ahead:
            picture = rgb if rgb.flags.writeable else rgb.copy()
            for cover in covers:
                cover.hide(picture, t, scale=scale)
            body = compute_landmarks_at(recording, t) if skeleton else None
            if body is not None:
                draw_skeleton(picture, body[0] * scale, body[1])
                _draw_mark(picture, marks, body[0], t, scale)
            at = int(np.searchsorted(starts, t, side="right")) - 1
            if at >= 0 and t < shown[at].end_s:
                draw_caption(picture, shown[at].text)
            begin = t if begin is None else begin
            film.add((t - begin) / part.speed, picture)
            if on_progress is not None:
                on_progress(min(t, total), total)
    if on_progress is not None:
        on_progress(total, total)


def _read_part(reader: ClipReader, part: FilmPart) -> Iterator[tuple[float, Rgb]]:
    """Time and picture of the part, in the order of time; the film begins with its first one."""
    for t, picture in reader.pictures():
        if t > part.end_s:
            return
        if t >= part.start_s:
            yield t, reader.rgb(picture)


def _draw_mark(picture: Rgb, marks: Sequence[BodyMark], pixels: Array, t: float, scale: float) -> None:
    """The mark whose moment is nearest, where one is near."""
    mark = min(marks, key=lambda item: abs(item.at_s - t), default=None)
    drawing = mark.trace(pixels) if mark is not None and abs(mark.at_s - t) <= SHOWN_S else None
    if mark is not None and drawing is not None:
        draw_mark(picture, drawing, mark.text, mark.grade, scale=scale)


def read_key_frames(path: str | Path, times: Sequence[float], *, max_side: int = 720) -> list[Rgb]:
    """The upright pictures nearest to the given times, in the order of the times, read in one pass.

    Parameters
    ----------
    path : the clip.
    times : seconds; times beyond the clip give its first or last picture.
    max_side : longest side of the pictures in pixels.

    Raises ClipError when the clip cannot be read.
    """
    order = sorted(range(len(times)), key=lambda index: times[index])
    found: dict[int, Rgb] = {}
    with ClipReader(path, max_side=max_side) as reader:
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
