"""Tracks a clip with a pose model into a landmark recording, in one piece or chunk by chunk."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import LANDMARK_COUNT, Array, LandmarkRecording, PoseModelInfo, Scene
from formcheck.pose.cuts import find_cuts
from formcheck.pose.estimator import PeopleFinder, Pose, PoseEstimator, PoseFinder
from formcheck.pose.frame_observations import FrameObserver, join_sway, make_rough_copy, make_small_copy
from formcheck.pose.person_following import FollowingEstimator
from formcheck.pose.person_selection import SurveyResult
from formcheck.pose.preview import survey_clip
from formcheck.video.chunks import WHOLE_CLIP, Chunk, Plan, Thinning
from formcheck.video.clip_file import ClipLimits, clip_sha256, readable_name
from formcheck.video.clip_info import ClipHead, make_clip_info
from formcheck.video.damage import UNKNOWN_EXTENT, Extent, assess_damage, select_sound_pictures
from formcheck.video.orientation import Rgb
from formcheck.video.packets import plan_tracking
from formcheck.video.read_ahead import read_ahead
from formcheck.video.reader import ONE_THREAD_PIXELS, ClipReader, SeekError

TRACKER_VERSION = 5
"""Raised whenever the same clip and model would give other landmarks, so that cached recordings are made anew."""

PIXEL_STEPS = 32
"""Landmark positions are kept to 1/32 pixel: far below the model's own jitter, and small on disk."""
WORLD_STEPS = 1024
"""World positions are kept to 1/1024 metre."""
VISIBILITY_STEPS = 256
COLUMNS = 6
"""Numbers a landmark: two of position, three of world position, visibility."""

Progress = Callable[[float, float | None], None]
"""Called with the seconds of the clip done and the seconds in all, or None when the clip does not say."""
EstimatorFactory = Callable[[], PoseEstimator]
Rows = NDArray[np.float32]


class Observer(Protocol):
    """Observes the pictures of one chunk beside the pose model."""

    def observe(self, t_s: float, small: Rgb, pose: Pose | None) -> Sequence[float]:
        """The numbers observed in this picture, always equally many.

        Parameters
        ----------
        t_s : seconds from the first shown picture, increasing; a chunk's warm-up is observed too and dropped.
        small : (h, w, 3) the picture, longer side `formcheck.pose.frame_observations.SMALL_SIDE` at most.
        pose : what the pose model found, pixels of the small picture.
        """


@dataclass(frozen=True, slots=True)
class Method:
    """How the pictures of a clip become landmarks; every part can be sent to another process."""

    estimator: EstimatorFactory
    """Makes the pose model, anew for every chunk."""
    observer: Callable[[], Observer] | None = None
    """Makes the observer of a chunk; None: `formcheck.pose.frame_observations.FrameObserver` after a survey."""


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


def track_clip(
    clip: str | Path,
    estimator: PoseEstimator,
    *,
    on_progress: Progress | None = None,
    limits: ClipLimits | None = None,
    clip_sha256: str | None = None,
) -> LandmarkRecording:
    """Landmarks of the person in every picture of a clip, tracked in one piece.

    Parameters
    ----------
    clip : the clip's file.
    estimator : the pose model, entered already, which has seen no other clip.
    on_progress : called after every frame; what it raises ends the work.
    limits : what is refused.
    clip_sha256 : the clip's checksum, when it is known already.

    Decoding runs in a thread of its own, so a clip costs little more than the model alone. Times are the clip's own
    presentation times, positions are pixels of the upright full-size picture. Frames without a person have
    NaN positions and visibility 0. Raises ClipError and PoseModelError.
    """
    with ClipReader(clip, limits=limits) as reader:
        extent = plan_tracking(reader).extent
        track = track_chunk(reader, estimator, on_picture=make_monotonic(on_progress, reader.duration_hint_s))
        recording = make_recording(reader.clip, reader.head, estimator.info, [track], None, clip_sha256, extent)
    if on_progress is not None:
        on_progress(recording.clip.duration_s, recording.clip.duration_s)
    return recording


def track_chunk(
    reader: ClipReader,
    estimator: PoseFinder,
    chunk: Chunk = WHOLE_CLIP,
    *,
    thinning: Thinning | None = None,
    observer: Observer | None = None,
    small: Callable[[Rgb], Rgb] = make_small_copy,
    on_picture: Callable[[float], None] | None = None,
) -> Track:
    """Landmarks in one chunk of a clip.

    Parameters
    ----------
    reader : the clip, opened, not read yet.
    estimator : the pose model, entered already, which has seen nothing yet.
    chunk : what to track; pictures of its warm-up are tracked and discarded.
    thinning : which pictures are tracked; None: all.
    observer : observes every tracked picture, once.
    small : makes the copy of a picture that the observer sees.
    on_picture : called with the time of every tracked picture.

    Raises ClipError, PoseModelError and `formcheck.video.reader.SeekError`.
    """
    times: list[float] = []
    t: list[float] = []
    rows: list[Rows] = []
    observations: list[Sequence[float]] = []
    with closing(read_ahead(_read_selected(reader, chunk, thinning))) as ahead:
        for at, rgb in ahead:
            in_chunk = at >= chunk.from_s
            if in_chunk:
                times.append(at)
            if rgb is None:
                continue
            pose = estimator.detect(rgb, at)
            observed = () if observer is None else _observe(observer, at, rgb, small(rgb), pose)
            if in_chunk:
                t.append(at)
                rows.append(_make_row(pose, reader.width / rgb.shape[1], reader.height / rgb.shape[0]))
                observations.append(observed)
            if on_picture is not None:
                on_picture(at)
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


def track_in_chunks(
    clip: Path,
    method: Method,
    *,
    plan: Plan | None = None,
    on_progress: Progress | None = None,
    limits: ClipLimits | None = None,
    clip_sha256: str | None = None,
) -> LandmarkRecording:
    """Landmarks of a clip by its plan, one chunk after the other, in this process.

    Parameters as for `track_clip`; `plan` takes the place of the clip's own.
    """
    with ClipReader(clip, limits=limits) as reader:
        head = reader.head
        plan = plan or plan_tracking(reader)
    report_progress = make_monotonic(on_progress, head.duration_hint_s)
    survey = None
    people_finder = method.estimator()
    if isinstance(people_finder, PeopleFinder):
        with people_finder:
            survey = survey_clip(clip, people_finder, plan.survey_spans, limits=limits)
    try:
        tracks = list(_track_chunks(clip, method, plan, survey, report_progress, limits))
    except SeekError:
        plan = plan.whole
        tracks = list(_track_chunks(clip, method, plan, survey, report_progress, limits))
    if is_damaged_in_threads(head, tracks):
        tracks = list(_track_chunks(clip, method, plan, survey, report_progress, limits, threads=1))
    recording = make_recording(clip, head, method.estimator().info, tracks, survey, clip_sha256, plan.extent)
    if on_progress is not None:
        on_progress(recording.clip.duration_s, recording.clip.duration_s)
    return recording


def is_damaged_in_threads(head: ClipHead, tracks: Sequence[Track]) -> bool:
    """Whether a damaged clip was decoded by several threads: what is lost then depends on how many there were."""
    return head.width * head.height > ONE_THREAD_PIXELS and any(len(track.lost) for track in tracks)


def _track_chunks(
    clip: Path,
    method: Method,
    plan: Plan,
    survey: SurveyResult | None,
    report_progress: Callable[[float], None],
    limits: ClipLimits | None,
    threads: int | None = None,
) -> Iterator[Track]:
    for chunk in plan.chunks:
        with ClipReader(clip, limits=limits, threads=threads) as reader, method.estimator() as estimator:
            yield track_with_method(method, reader, estimator, chunk, plan.thinning, survey, report_progress)


def track_with_method(
    method: Method,
    reader: ClipReader,
    estimator: PoseEstimator,
    chunk: Chunk,
    thinning: Thinning | None,
    survey: SurveyResult | None,
    on_picture: Callable[[float], None] | None,
) -> Track:
    """`track_chunk` with the observer and, after a survey of the clip, the lifter that the method asks for."""
    observer = None if method.observer is None else method.observer()
    finder: PoseFinder = estimator
    small = make_small_copy if method.observer or survey is None or survey.sways else make_rough_copy
    if survey is not None:
        finder = FollowingEstimator(estimator, survey, reader.width)
        observer = observer or FrameObserver(survey.sways, reader.width)
    return track_chunk(reader, finder, chunk, thinning=thinning, observer=observer, small=small, on_picture=on_picture)


def make_monotonic(on_progress: Progress | None, total: float | None) -> Callable[[float], None]:
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
        clip=make_clip_info(head, track.times, readable_name(clip), sha256 or clip_sha256(clip)),
        pose_model=model,
        t=track.t[sound],
        pixels=pixels[sound],
        world=track.rows[sound, :, 2:5].astype(np.float64),
        visibility=track.rows[sound, :, 5].astype(np.float64),
        scene=scene,
        sway=None if sway is None else sway[sound],
        damage=damage,
    )


def _observe(observer: Observer, t: float, rgb: Rgb, small: Rgb, pose: Pose | None) -> Sequence[float]:
    if pose is not None:
        pose = replace(pose, pixels=pose.pixels * (small.shape[1] / rgb.shape[1]))
    return observer.observe(t, small, pose)


def _read_selected(reader: ClipReader, chunk: Chunk, thinning: Thinning | None) -> Iterator[tuple[float, Rgb | None]]:
    """Every picture's time, with the picture itself where it is tracked; the others are not converted."""
    before: float | None = None
    for t, picture in reader.pictures(chunk):
        yield t, reader.rgb(picture) if thinning is None or thinning.takes(t, before) else None
        before = t


def _make_row(pose: Pose | None, scale_x: float, scale_y: float) -> Rows:
    """(33, 6): pixels of the full-size picture, world, visibility, each rounded to its step."""
    values = np.full((LANDMARK_COUNT, COLUMNS), np.nan)
    values[:, 5] = 0.0
    if pose is not None:
        values[:, 0:2] = np.round(pose.pixels * (scale_x, scale_y) * PIXEL_STEPS) / PIXEL_STEPS
        values[:, 2:5] = np.round(pose.world * WORLD_STEPS) / WORLD_STEPS
        values[:, 5] = np.round(np.clip(pose.visibility, 0, 1) * VISIBILITY_STEPS) / VISIBILITY_STEPS
    return values.astype(np.float32)
