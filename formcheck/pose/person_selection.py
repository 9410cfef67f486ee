"""Chooses the lifter among the people in a clip: the one the camera was set up for, who moves. Needs no pose model.

A few pictures spread over the clip are searched for all people. Each person is followed from picture to
picture by place, size and the colour of the torso; the lifter is who is seen most, largest and most in the middle,
and moves the arms. Who stands or walks behind, or a smaller image in a mirror, scores less.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from formcheck.core.model import Array
from formcheck.pose.estimator import Pose
from formcheck.signals.skeleton import BODY, INDEX, TORSO
from formcheck.video.orientation import Rgb

Box = tuple[float, float, float, float]
"""Left, top, right and bottom."""

SAME_PERSON = 2.2
"""Dissimilarity up to which two sightings may be one person; see `_compute_dissimilarity`."""
CLEAR_LEAD = 1.25
"""The lifter's score over the next person's from which there is no doubt."""
MOVEMENT_COUNTS = 2.0
MOVEMENT_MOST = 0.6

_BODY = [INDEX[name] for name in BODY]
_TORSO = [INDEX[name] for name in TORSO]
_SHOULDERS, _HIPS = _TORSO[:2], _TORSO[2:]
_WRISTS = [INDEX["left_wrist"], INDEX["right_wrist"]]


@dataclass(frozen=True, eq=False, slots=True)
class Person:
    """One person in one picture; lengths in pixels of the upright full-size picture.

    Parameters
    ----------
    centre : (2,) middle of shoulders and hips.
    size : the longest of torso, shoulder width and a third of the body's box.
    box : (4,) left, top, right, bottom of the body's landmarks.
    hands : (2,) height of the wrists below the shoulders, in sizes.
    colour : (3,) mean colour of the torso, 0..255; NaN when unknown.
    """

    centre: Array
    size: float
    box: Array
    hands: Array
    colour: Array

    def make_anchor(self, t: float) -> "Anchor":
        """Where this person was at a moment."""
        left, top, right, bottom = (float(value) for value in self.box)
        return Anchor(t, float(self.centre[0]), float(self.centre[1]), self.size, (left, top, right, bottom))

    def scale(self, scale: float) -> "Person":
        """The same person in a picture of another size."""
        return replace(self, centre=self.centre * scale, size=self.size * scale, box=self.box * scale)

    def expand_box(self, room: float) -> Box:
        """The body's box with some room around it, in sizes."""
        left, top, right, bottom = (float(value) for value in self.box)
        more = room * self.size
        return left - more, top - more, right + more, bottom + more


@dataclass(frozen=True, slots=True)
class PeopleInFrame:
    """All people found in one picture."""

    t: float
    people: tuple[Person, ...]


@dataclass(frozen=True, slots=True)
class Anchor:
    """Where the lifter was at one moment; plain numbers, so that it can be sent to another process."""

    t: float
    x: float
    y: float
    size: float
    box: Box


@dataclass(frozen=True, slots=True)
class SurveyResult:
    """Whom to follow."""

    anchors: tuple[Anchor, ...] = ()
    """Where the lifter was seen, in the order of time; none: nobody was."""
    several: bool = False
    """Whether other people are in view."""
    doubtful: bool = False
    """Whether somebody else scores nearly as high."""
    sways: bool = False
    """Whether the camera moves."""

    def nearest_anchor(self, t: float) -> Anchor | None:
        """The anchor nearest in time, None when there is none."""
        return min(self.anchors, key=lambda anchor: abs(anchor.t - t), default=None)


def make_person(pose: Pose, rgb: Rgb | None = None, scale: float = 1.0) -> Person:
    """A pose as a person.

    Parameters
    ----------
    rgb : the picture the pose was found in, for the colour of the torso.
    scale : full-size pixels for each pixel of that picture.
    """
    points = pose.pixels
    body = points[_BODY]
    box = np.concatenate([body.min(axis=0), body.max(axis=0)])
    shoulders, hips = points[_SHOULDERS], points[_HIPS]
    torso = float(np.linalg.norm(shoulders.mean(axis=0) - hips.mean(axis=0)))
    width = float(np.linalg.norm(shoulders[0] - shoulders[1]))
    size = max(torso, width, float(np.linalg.norm(box[2:] - box[:2])) / 3.0, 1.0)
    hands = (points[_WRISTS, 1] - shoulders.mean(axis=0)[1]) / size
    colour = np.full(3, np.nan) if rgb is None else _measure_torso_colour(points, rgb)
    return Person(points[_TORSO].mean(axis=0) * scale, size * scale, box * scale, hands, colour)


def choose_lifter(frames: Sequence[PeopleInFrame], width: int, height: int) -> SurveyResult:
    """Whom to follow through a clip.

    Parameters
    ----------
    frames : in the order of time.
    width, height : pixels of the upright full-size picture.
    """
    tracks = _link_people(frames)
    if not tracks:
        return SurveyResult()
    scored = sorted(
        ((_score_track(track, len(frames), width, height), track) for track in tracks), key=lambda item: -item[0]
    )
    best, lifter = scored[0]
    others = [score for score, _ in scored[1:]]
    anchors = tuple(person.make_anchor(t) for t, person in lifter.seen)
    # one person who bends down or turns may not be known again: only two in one picture are two
    several = any(len(frame.people) > 1 for frame in frames)
    return SurveyResult(anchors, several, several and bool(others) and best < CLEAR_LEAD * max(others))


@dataclass(slots=True)
class _Track:
    seen: list[tuple[float, Person]] = field(default_factory=list)


def _link_people(frames: Sequence[PeopleInFrame]) -> list[_Track]:
    """The people of all pictures, each with the pictures they are in; the likest are joined first."""
    tracks: list[_Track] = []
    for frame in frames:
        pairs = sorted(
            (
                (_compute_dissimilarity(track.seen[-1][1], person), i, j)
                for i, track in enumerate(tracks)
                for j, person in enumerate(frame.people)
            ),
            key=lambda pair: pair[0],
        )
        taken: set[int] = set()
        grown: set[int] = set()
        for dissimilarity, i, j in pairs:
            if dissimilarity <= SAME_PERSON and i not in grown and j not in taken:
                grown.add(i)
                taken.add(j)
                tracks[i].seen.append((frame.t, frame.people[j]))
        tracks += [_Track([(frame.t, person)]) for j, person in enumerate(frame.people) if j not in taken]
    return tracks


def _compute_dissimilarity(a: Person, b: Person) -> float:
    """0 for the same sighting; a step of two sizes, a third in size or a quite different shirt count about 1 each."""
    step = float(np.linalg.norm(a.centre - b.centre)) / max(a.size, b.size)
    growth = abs(float(np.log(a.size / b.size)))
    colour = float(np.linalg.norm(a.colour - b.colour))
    return step / 2.0 + growth * 3.0 + (0.0 if np.isnan(colour) else colour / 60.0)


def _score_track(track: _Track, frames: int, width: int, height: int) -> float:
    people = [person for _, person in track.seen]
    presence = len(people) / frames
    size = float(np.median([person.size for person in people])) / max(width, height)
    off = float(np.median([abs(person.centre[0] / width - 0.5) for person in people])) * 2.0
    hands = np.array([person.hands for person in people])
    movement = min(MOVEMENT_MOST, float(hands.std(axis=0).max()))
    return presence * size * (0.4 + 0.6 * max(0.0, 1.0 - off)) * (1.0 + MOVEMENT_COUNTS * movement)


def _measure_torso_colour(points: Array, rgb: Rgb) -> Array:
    """Mean colour of a patch around the middle of the chest, where arms and legs seldom are."""
    chest = points[_SHOULDERS].mean(axis=0) * 0.65 + points[_HIPS].mean(axis=0) * 0.35
    reach = max(2.0, 0.15 * float(np.linalg.norm(points[_SHOULDERS].mean(axis=0) - points[_HIPS].mean(axis=0))))
    height, width = rgb.shape[:2]
    x0, x1 = (int(np.clip(chest[0] + side * reach, 0, width)) for side in (-1, 1))
    y0, y1 = (int(np.clip(chest[1] + side * reach, 0, height)) for side in (-1, 1))
    patch = rgb[y0:y1, x0:x1]
    return np.asarray(patch.reshape(-1, 3).mean(axis=0), dtype=np.float64) if patch.size else np.full(3, np.nan)
