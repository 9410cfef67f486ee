"""Surveys a clip before it is tracked: who is in it, and whether the camera stands still."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from formcheck.pose.estimator import PeopleFinder
from formcheck.pose.frame_observations import (
    BODY_ROOM,
    LEAST_CORNERS,
    SWAY_ROLL,
    SWAY_SHIFT,
    Grey,
    find_background_corners,
    make_small_grey,
    measure_camera_motion,
)
from formcheck.pose.person_selection import PeopleInFrame, Person, SurveyResult, choose_lifter, make_person
from formcheck.video.chunks import Chunk
from formcheck.video.orientation import Rgb
from formcheck.video.reader import ClipReader

SAMPLE_TIMES_S = (0.0, 0.55, 2.0, 3.9)
"""Seconds into a survey span at which all people are looked for."""
EARLY_S = 0.005


@dataclass(frozen=True, slots=True)
class SurveySample:
    """What one survey span showed: the people of each picture, whether the background moved between them."""

    width: int
    """Of the upright full-size picture, pixels."""
    height: int
    frames: tuple[PeopleInFrame, ...]
    camera_moved: tuple[bool, ...]


def take_sample(reader: ClipReader, model: PeopleFinder, span: Chunk) -> SurveySample:
    """Sample one survey span (`formcheck.video.chunks.choose_survey_spans`).

    Parameters
    ----------
    reader : the clip, opened, not read yet.
    model : the pose model, entered.

    Raises ClipError and SeekError when the span cannot be decoded, and PoseModelError.
    """
    width, height = reader.width, reader.height
    pictures = _select_pictures(reader, span)
    seen, frames = [], []
    for t, rgb in pictures:
        seen.append((make_small_grey(rgb), [make_person(pose, rgb) for pose in model.find_people(rgb)]))
        scale = width / rgb.shape[1]
        frames.append(PeopleInFrame(t, tuple(person.scale(scale) for person in seen[-1][1])))
    camera_moved = tuple(
        _has_camera_moved(before[0], after[0], before[1], pictures[0][1].shape[1]) for before, after in pairwise(seen)
    )
    return SurveySample(width, height, tuple(frames), camera_moved)


def combine_samples(samples: Sequence[SurveySample | None]) -> SurveyResult:
    """Whom to follow, from the samples of a whole clip in the order of time."""
    taken = [item for item in samples if item is not None]
    if not taken:
        return SurveyResult()
    frames = [frame for item in taken for frame in item.frames]
    camera_moved = [moved for item in taken for moved in item.camera_moved]
    return replace(
        choose_lifter(frames, taken[-1].width, taken[-1].height), sways=2 * sum(camera_moved) > len(camera_moved)
    )


def _has_camera_moved(before: Grey, after: Grey, people: Sequence[Person], width: int) -> bool:
    """Whether the background of two pictures differs by more than a standing camera's."""
    scale = before.shape[1] / width
    boxes = [person.scale(scale).expand_box(BODY_ROOM) for person in people]
    corners = find_background_corners(before, boxes)
    if len(corners) < LEAST_CORNERS:
        return False
    moved = measure_camera_motion(before, after, corners)
    if moved is None:
        return False
    # how far the middle of the picture moved: the shift of its corner says little when it turned
    middle = np.array([before.shape[1], before.shape[0]]) / 2
    cos, sin = np.cos(moved[0]), np.sin(moved[0])
    shift = np.array([[cos, -sin], [sin, cos]]) @ middle + moved[1:] - middle
    return bool(abs(moved[0]) > SWAY_ROLL or np.linalg.norm(shift) > SWAY_SHIFT * max(before.shape))


def _select_pictures(reader: ClipReader, span: Chunk) -> list[tuple[float, Rgb]]:
    """The pictures of a span at those of `SAMPLE_TIMES_S` that lie in it; no picture after the last is decoded."""
    wanted = [at for at in SAMPLE_TIMES_S if at - EARLY_S < span.until_s - span.from_s]
    pictures: list[tuple[float, Rgb]] = []
    for t, picture in reader.pictures(span):
        if t - span.from_s >= wanted[len(pictures)] - EARLY_S:
            pictures.append((t, reader.rgb(picture)))
            if len(pictures) == len(wanted):
                break
    return pictures
