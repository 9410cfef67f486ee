"""Tracks chunks of a clip with a pose model, and joins them into a landmark recording."""

from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import (
    LANDMARK_COUNT,
    Array,
    ClipInfo,
    LandmarkRecording,
    PoseModelInfo,
    ProgressReport,
    Scene,
)
from formcheck.pose.cuts import find_cuts
from formcheck.pose.estimator import Pose, PoseEstimator
from formcheck.pose.frame_observations import FrameObserver, join_sway
from formcheck.pose.person_following import FollowingEstimator
from formcheck.pose.person_selection import SurveyResult
from formcheck.video.chunks import WHOLE_CLIP, Chunk, take_at_rate
from formcheck.video.clip_file import compute_clip_sha256, make_readable_name
from formcheck.video.damage import UNKNOWN_EXTENT, Extent, assess_damage, select_sound_pictures
from formcheck.video.orientation import Rgb
from formcheck.video.read_ahead import read_ahead
from formcheck.video.reader import ClipHead, ClipReader

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

TRACKER_VERSION = 6
"""Raised whenever the same clip and model would give other landmarks, so that cached recordings are made anew."""

PIXEL_STEPS = 32
"""Landmark positions are kept to 1/32 pixel: far below the model's own jitter, and small on disk."""
WORLD_STEPS = 1024
"""World positions are kept to 1/1024 metre."""
VISIBILITY_STEPS = 256
COLUMNS = 6
"""Numbers a landmark: two of position, three of world position, visibility."""

Rows = NDArray[np.float32]


class AllNeededError(Exception):
    """A clip's pictures are not what its packets said, so that it is not known which need not be decoded."""


@dataclass(frozen=True, eq=False, slots=True)
class Track:
    """The landmarks of a chunk, or of chunks joined.

    Parameters
    ----------
    times : (n,) seconds of all pictures.
    t : (k,) seconds of the tracked pictures.
    rows : (k, 33, 6) pixels of the upright full-size picture (x, y), world metres (x, y, z), visibility; positions
        are NaN where nobody was found.
    observations : (k, m) what the observer returned; m is 0 without one.
    lost : (d, 2) stretches in which pictures were damaged and left out, as `formcheck.video.reader.ClipReader.lost`.
    backward : (1,) pictures left out because their time ran back.
    """

    times: Array
    t: Array
    rows: Rows
    observations: Array
    lost: Array = field(default_factory=lambda: np.empty((0, 2)))
    backward: Array = field(default_factory=lambda: np.zeros(1))


def track_chunk(
    reader: ClipReader,
    estimator: PoseEstimator,
    chunk: Chunk = WHOLE_CLIP,
    rate: float | None = None,
    survey: SurveyResult | None = None,
    *,
    ahead: bool = True,
    on_picture: Callable[[float], None] | None = None,
    on_pose: Callable[[float, Rows, Rgb], None] | None = None,
) -> Track:
    """Landmarks in one chunk of a clip.

    Parameters
    ----------
    reader : the clip, opened, not read yet.
    estimator : the pose model, entered already, which has seen nothing yet.
    chunk : what to track; pictures of its warm-up are tracked and discarded.
    rate : how many pictures a second are tracked; None: all.
    survey : whom to follow, whereupon every tracked picture is observed too; None: whom the pose model finds.
    ahead : decode in a thread of its own, so that a chunk takes little longer than the model alone; where no core is
        free for it, pictures that wait only leave the processor's caches, which costs a twentieth more.
    on_picture : called with the time of every tracked picture.
    on_pose : called before it with every tracked picture of the chunk itself, and the landmarks in it.

    Raises ClipError,
    PoseModelError, `formcheck.video.reader.SeekError`, and AllNeededError where the chunk has to be tracked without
    `Chunk.unseen`.
    """
    finder = estimator if survey is None else FollowingEstimator(estimator, survey, reader.width)
    observer = None if survey is None else FrameObserver(survey.sways, reader.width)
    times: list[float] = []
    t: list[float] = []
    rows: list[Rows] = []
    observations: list[Sequence[float]] = []
    selected = _read_selected(reader, chunk, rate)
    with closing(read_ahead(selected) if ahead else selected) as pictures:
        for at, rgb in pictures:
            in_chunk = at >= chunk.from_s
            if in_chunk:
                times.append(at)
            if rgb is None:
                continue
            pose = finder.detect(rgb, at)
            observed = () if observer is None else observer.observe(rgb, pose)
            if in_chunk:
                t.append(at)
                rows.append(_make_row(pose, reader.width / rgb.shape[1], reader.height / rgb.shape[0]))
                observations.append(observed)
                if on_pose is not None:
                    on_pose(at, rows[-1], rgb)
            if on_picture is not None:
                on_picture(at)
    if chunk.unseen and (reader.lost or reader.backward):
        raise AllNeededError
    values = np.array(rows, dtype=np.float32).reshape(-1, LANDMARK_COUNT, COLUMNS)
    width = len(observations[0]) if observations else 0
    return Track(
        np.array(times),
        np.array(t),
        values,
        np.array(observations, dtype=np.float64).reshape(len(t), width),
        _clip_to_chunk(reader.lost, chunk),
        np.array([float(reader.backward)]),
    )


def _clip_to_chunk(lost: Sequence[tuple[float, float]], chunk: Chunk) -> Array:
    """The lost stretches, as far as they lie in a chunk; what begins before it is the chunk's before too."""
    inside = [
        (max(after, chunk.from_s) if chunk.key is not None else after, min(until, chunk.until_s))
        for after, until in lost
        if until > chunk.from_s
    ]
    return np.array(inside, dtype=np.float64).reshape(-1, 2)


def make_monotonic(on_progress: ProgressReport | None, total: float | None) -> Callable[[float], None]:
    """A progress callback that passes the seconds done on, never fewer than before, never more than there are."""
    most = 0.0

    def report_progress(done: float) -> None:
        nonlocal most
        most = max(most, done if total is None else min(done, total))
        if on_progress is not None:
            on_progress(most, total)

    return report_progress


def join_tracks(tracks: Sequence[Track]) -> Track:
    """The chunks of one clip, in their order, as one."""
    if len(tracks) == 1:
        return tracks[0]
    observed = [
        track.observations for track in tracks if len(track.t)
    ]  # a chunk without pictures has no columns either
    return Track(
        np.concatenate([track.times for track in tracks]),
        np.concatenate([track.t for track in tracks]),
        np.concatenate([track.rows for track in tracks]),
        np.concatenate(observed) if observed else tracks[0].observations,
        np.concatenate([track.lost for track in tracks]),
        np.sum([track.backward for track in tracks], axis=0),
    )


def make_recording(
    clip: Path,
    head: ClipHead,
    model: PoseModelInfo,
    tracks: Sequence[Track],
    survey: SurveyResult | None = None,
    sha256: str | None = None,
    extent: Extent | None = None,
) -> LandmarkRecording:
    """Make the recording of a clip from its chunks, in their order.

    Parameters
    ----------
    survey : what the clip's survey found.
    extent : what the file states of its length.

    Raises ClipError when too little of the clip could be read.
    """
    track, survey = join_tracks(tracks), survey or SurveyResult()
    lost = [(float(after), float(until)) for after, until in track.lost]
    extent = extent or UNKNOWN_EXTENT
    damage = assess_damage(track.times, lost, int(track.backward.sum()), extent, clip)
    pixels = track.rows[:, :, 0:2].astype(np.float64)
    scene = Scene(survey.several, survey.doubtful, find_cuts(track.t, track.observations, pixels))
    sway = join_sway([part.observations for part in tracks if len(part.t)])
    sound = select_sound_pictures(track.t, lost, extent.holes) if damage is not None else slice(None)
    return LandmarkRecording(
        clip=_make_clip_info(head, track.times, make_readable_name(clip), sha256 or compute_clip_sha256(clip)),
        pose_model=model,
        t=track.t[sound],
        pixels=pixels[sound],
        world=track.rows[sound, :, 2:5].astype(np.float64),
        visibility=track.rows[sound, :, 5].astype(np.float64),
        scene=scene,
        sway=None if sway is None else sway[sound],
        damage=damage,
    )


def _read_selected(reader: ClipReader, chunk: Chunk, rate: float | None) -> Generator[tuple[float, Rgb | None]]:
    """Every picture's time, with the picture itself where it is tracked; the others are not converted."""
    before: float | None = None
    for t, picture in _read_all(reader, chunk):
        tracked = rate is None or take_at_rate(np.array([t]), rate, before)[0]
        if tracked and picture is None:
            raise AllNeededError
        yield t, reader.rgb(picture) if tracked and picture is not None else None
        before = t


def _read_all(reader: ClipReader, chunk: Chunk) -> "Iterator[tuple[float, VideoFrame | None]]":
    """Every picture of a chunk with its time; None in the place of one that was not decoded."""
    unseen = deque(reader.compute_times_s(chunk.unseen))
    for t, picture in reader.pictures(chunk):
        while unseen and unseen[0] < t:
            yield unseen.popleft(), None
        if unseen and unseen[0] == t:  # it was decoded with the clip's first pictures
            unseen.popleft()
        if chunk.unseen and picture.interlaced_frame:  # a packet may then hold half a picture
            raise AllNeededError
        yield t, picture
    for t in unseen:
        yield t, None


def _make_row(pose: Pose | None, scale_x: float, scale_y: float) -> Rows:
    """(33, 6): pixels of the full-size picture, world, visibility, each rounded to its step."""
    values = np.full((LANDMARK_COUNT, COLUMNS), np.nan)
    values[:, 5] = 0.0
    if pose is not None:
        values[:, 0:2] = np.round(pose.pixels * (scale_x, scale_y) * PIXEL_STEPS) / PIXEL_STEPS
        values[:, 2:5] = np.round(pose.world * WORLD_STEPS) / WORLD_STEPS
        values[:, 5] = np.round(np.clip(pose.visibility, 0, 1) * VISIBILITY_STEPS) / VISIBILITY_STEPS
    return values.astype(np.float32)


def _make_clip_info(head: ClipHead, times: Sequence[float] | Array, name: str, sha256: str) -> ClipInfo:
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
