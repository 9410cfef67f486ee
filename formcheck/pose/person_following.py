"""A pose model that keeps to the lifter when other people are in view.

The pose model follows whom it found first. It is shown only the lifter until it has found them; when what it finds
jumps to another anchor or size, that is thrown away and the lifter is looked for again where they were.
"""

from dataclasses import dataclass, field

import numpy as np

from formcheck.pose.estimator import Pose, PoseEstimator
from formcheck.pose.person_selection import Anchor, Person, SurveyResult, make_person
from formcheck.video.orientation import Rgb

JUMP_SIZES = 0.45
"""Sizes of the body that its middle may move from one picture to the next, ..."""
SPEED_SIZES = 5.0
"""... and, on top, in a second: a person who drops into a squat makes three."""
GROWTH = 1.45
"""How much larger or smaller a body may look from one picture to the next."""
SEEK_SIZES = 1.0
"""How far from where the lifter was they may be found again."""
FORGET_S = 1.0
"""Seconds after which the anchor where the lifter was last says less than the places seen beforehand."""
ROOM = 0.3
"""Room left around the body, in sizes, where all else is painted out."""
PAINT = 127


@dataclass(slots=True)
class FollowingEstimator:
    """Finds one person's pose in picture after picture.

    Parameters
    ----------
    inner : the pose model.
    survey : whom to follow.
    width : pixels of the upright full-size picture, of which it may be given smaller copies.

    Enter and leave the pose model itself.
    """

    inner: PoseEstimator
    survey: SurveyResult
    width: int
    _last: tuple[float, Person] | None = field(default=None, init=False)
    _seeking: bool = field(init=False)

    def __post_init__(self) -> None:
        self._seeking = self.survey.several

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        """The lifter's pose in one picture, or None when the lifter is not found."""
        scale = self.width / rgb.shape[1]
        if not self._seeking:
            return self._follow(self.inner.detect(rgb, t_s), t_s, scale)
        anchor = self._find_anchor(t_s)
        pose = self.inner.detect(rgb if anchor is None else paint_out_others(rgb, anchor, scale), t_s)
        if pose is None:
            return None
        person = make_person(pose, scale=scale)
        if anchor is not None and not _is_at(person, anchor):
            return None
        self._last, self._seeking = (t_s, person), False
        return pose

    def _follow(self, pose: Pose | None, t_s: float, scale: float) -> Pose | None:
        if pose is None:
            # whoever is found next may be somebody else
            self._seeking = self.survey.several
            return None
        person = make_person(pose, scale=scale)
        if self._last is not None and _has_jumped(self._last, person, t_s):
            self._seeking = True
            return None
        self._last = (t_s, person)
        return pose

    def _find_anchor(self, t_s: float) -> Anchor | None:
        """Where to look for the lifter; None: everywhere."""
        if self._last is not None and t_s - self._last[0] <= FORGET_S:
            then, person = self._last
            return person.make_anchor(then)
        return self.survey.nearest_anchor(t_s) if self.survey.several else None


def paint_out_others(rgb: Rgb, anchor: Anchor, scale: float) -> Rgb:
    """The picture with everything but the anchor of one person painted over.

    Parameters
    ----------
    rgb : (h, w, 3).
    scale : full-size pixels for each pixel of the picture.
    """
    left, top, right, bottom = np.array(anchor.box) / scale
    room = ROOM * anchor.size / scale
    height, width = rgb.shape[:2]
    x0, x1 = int(np.clip(left - room, 0, width)), int(np.clip(right + room, 0, width))
    y0, y1 = int(np.clip(top - room, 0, height)), int(np.clip(bottom + room, 0, height))
    seen = np.full_like(rgb, PAINT)
    seen[y0:y1, x0:x1] = rgb[y0:y1, x0:x1]
    return seen


def _is_at(person: Person, anchor: Anchor) -> bool:
    step = float(np.hypot(person.centre[0] - anchor.x, person.centre[1] - anchor.y))
    return step <= SEEK_SIZES * anchor.size and 1 / GROWTH**2 <= person.size / anchor.size <= GROWTH**2


def _has_jumped(last: tuple[float, Person], person: Person, t_s: float) -> bool:
    then, before = last
    step = float(np.linalg.norm(person.centre - before.centre)) / before.size
    return step > JUMP_SIZES + SPEED_SIZES * (t_s - then) or not 1 / GROWTH <= person.size / before.size <= GROWTH
