"""A glance at a clip before it is tracked: who is in it, and does the camera stand still."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from formcheck.core.errors import ClipError
from formcheck.pose.estimator import SeesPeople
from formcheck.pose.frame_observations import (
    BODY_ROOM,
    LEAST_CORNERS,
    SWAY_ROLL,
    SWAY_SHIFT,
    Grey,
    background_corners,
    camera_moved,
    small_grey,
)
from formcheck.pose.person_selection import Following, Person, Sight, choose_lifter, person_of
from formcheck.video.chunks import Chunk
from formcheck.video.clip_file import ClipLimits
from formcheck.video.orientation import Rgb
from formcheck.video.reader import ClipReader, SeekError

MOMENTS = (0.0, 0.55, 2.0, 3.9)
"""Seconds into a glance at which all people are looked for."""
EARLY_S = 0.005


@dataclass(frozen=True, slots=True)
class Glimpse:
    """What one glance showed: the people of each picture, whether the background moved between them."""

    width: int
    """Of the upright full-size picture, pixels."""
    height: int
    sights: tuple[Sight, ...]
    swayed: tuple[bool, ...]


def survey(path: Path, model: SeesPeople, glances: Sequence[Chunk], *, limits: ClipLimits | None = None) -> Following:
    """Whom to follow in a clip, from a few pictures of each glance.

    Parameters
    ----------
    path : the clip.
    model : the pose model, entered.
    glances : see `formcheck.video.chunks.glances_at`.

    A glance that cannot be had is left out; raises PoseModelError.
    """
    return following_of([glimpse(path, model, glance, limits=limits) for glance in glances])


def glimpse(path: Path, model: SeesPeople, glance: Chunk, *, limits: ClipLimits | None = None) -> Glimpse | None:
    """One glance; None when it cannot be had."""
    try:
        with ClipReader(path, limits=limits) as reader:
            width, height = reader.width, reader.height
            looked = _pictures(reader, glance)
    except (ClipError, SeekError):
        return None
    seen, sights = [], []
    for t, rgb in looked:
        seen.append((small_grey(rgb), [person_of(pose, rgb) for pose in model.people(rgb)]))
        scale = width / rgb.shape[1]
        sights.append(Sight(t, tuple(person.scaled(scale) for person in seen[-1][1])))
    swayed = tuple(_swayed(before[0], after[0], before[1], looked[0][1].shape[1]) for before, after in pairwise(seen))
    return Glimpse(width, height, tuple(sights), swayed)


def following_of(glimpses: Sequence[Glimpse | None]) -> Following:
    """Whom to follow, from the glances of a whole clip in the order of time."""
    had = [item for item in glimpses if item is not None]
    if not had:
        return Following()
    sights = [sight for item in had for sight in item.sights]
    swayed = [moved for item in had for moved in item.swayed]
    return replace(choose_lifter(sights, had[-1].width, had[-1].height), sways=2 * sum(swayed) > len(swayed))


def _swayed(before: Grey, after: Grey, people: Sequence[Person], width: int) -> bool:
    """Whether the background of two pictures differs by more than a standing camera's."""
    scale = before.shape[1] / width
    boxes = [person.scaled(scale).around(BODY_ROOM) for person in people]
    corners = background_corners(before, boxes)
    if len(corners) < LEAST_CORNERS:
        return False
    moved = camera_moved(before, after, corners)
    if moved is None:
        return False
    # how far the middle of the picture went: the shift of its corner says little when it turned
    middle = np.array([before.shape[1], before.shape[0]]) / 2
    cos, sin = np.cos(moved[0]), np.sin(moved[0])
    went = np.array([[cos, -sin], [sin, cos]]) @ middle + moved[1:] - middle
    return bool(abs(moved[0]) > SWAY_ROLL or np.linalg.norm(went) > SWAY_SHIFT * max(before.shape))


def _pictures(reader: ClipReader, glance: Chunk) -> list[tuple[float, Rgb]]:
    """The pictures of a glance that are looked at: the first, a moment later, and more of a long one."""
    looked: list[tuple[float, Rgb]] = []
    for t, picture in reader.pictures(glance):
        if len(looked) == len(MOMENTS):
            break
        if t - glance.from_s >= MOMENTS[len(looked)] - EARLY_S:
            looked.append((t, reader.rgb(picture)))
    return looked
