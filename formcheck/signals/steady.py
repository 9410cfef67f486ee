"""Landmarks as a standing camera, and a model that never takes left for right, would have given them."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from formcheck.core.model import Array, ClipPart, LandmarkRecording, Mask, Message, MessageValue
from formcheck.signals.filtering import mark_inside
from formcheck.signals.geometry import wrap_degrees
from formcheck.signals.lengths import measure_trunk, select_both_sides
from formcheck.signals.skeleton import INDEX, NAMES

MOST_CUTS_NAMED = 4
"""So many cuts are named by their time."""
SWAP_GAIN = 0.4
"""Left and right have changed places when the landmarks moved this much less, taken the other way round, ..."""
SWAP_APART = 0.3
"""... and shoulders or hips lie this many torso lengths apart: nearer ones tell nothing."""
SWAP_GAP_S = 0.25
"""Pictures further apart are not compared."""
SWAP_LASTS_S = 0.5
"""A change that is not taken back within this time may be the lifter turning round, and is left as it is."""
TURNS_AT_ONCE_DEG = 100.0
"""Shoulders and hips that turn by more from one picture to the next have changed places: nobody turns so fast. In the
rendered recordings without such a change it is 35 degrees at most."""
FLICKER_S = 0.25
"""Stretches with left and right changed that are nearer to each other than this are one."""

MIRRORED = [INDEX[name.replace("left", "?").replace("right", "left").replace("?", "right")] for name in NAMES]
"""For each landmark the one of the other side."""
_PAIRS = [(INDEX[f"left_{part}"], INDEX[f"right_{part}"]) for part in ("shoulder", "hip", "knee")]


def remove_sway(recording: LandmarkRecording) -> LandmarkRecording:
    """The recording without the camera's own movement; the same one where the camera stood still."""
    if recording.sway is None:
        return recording
    roll, shift = recording.sway[:, 0], recording.sway[:, 1:]
    cos, sin = np.cos(roll), np.sin(roll)
    back = np.stack([np.stack([cos, sin], axis=1), np.stack([-sin, cos], axis=1)], axis=1)  # (n, 2, 2) turns back
    pixels = np.einsum("nij,nkj->nki", back, recording.pixels - shift[:, None, :])
    world = recording.world.copy()
    world[:, :, :2] = np.einsum("nij,nkj->nki", back, recording.world[:, :, :2])
    return replace(recording, pixels=pixels, world=world, sway=None)


def swap_back(recording: LandmarkRecording, stretches: Sequence[tuple[float, float]]) -> LandmarkRecording:
    """The recording with left and right changed in these stretches of time."""
    return _swap_sides(recording, mark_inside(recording.t, stretches))


def restore_sides(recording: LandmarkRecording) -> LandmarkRecording:
    """The recording with left and right put back where the model took one for the other for a while.

    The same recording comes back where nothing was swapped.
    """
    return _swap_sides(recording, find_swaps(recording))


def _swap_sides(recording: LandmarkRecording, swapped: Mask) -> LandmarkRecording:
    if not swapped.any():
        return recording
    pixels, world, visibility = recording.pixels.copy(), recording.world.copy(), recording.visibility.copy()
    for values in (pixels, world, visibility):
        values[swapped] = values[swapped][:, MIRRORED]
    return replace(recording, pixels=pixels, world=world, visibility=visibility)


def find_swaps(recording: LandmarkRecording) -> Mask:
    """(n,) whether left and right change places in a picture and back again soon after."""
    turned = np.zeros(len(recording.t), dtype=bool)
    found = np.flatnonzero(np.isfinite(recording.pixels[:, INDEX["nose"], 0]))
    if len(found) < 2:
        return turned
    times = recording.t[found]
    changes = np.flatnonzero(_find_changes(times, recording.pixels[found])) + 1
    at = 0
    while at + 1 < len(changes):
        begin, end = changes[at], changes[at + 1]
        if times[end] - times[begin] <= SWAP_LASTS_S:
            turned[found[begin:end]] = True
            at += 2
        else:
            at += 1
    return turned


def _find_changes(times: Array, points: Array) -> Mask:
    """(n - 1,) whether left and right change places between one picture and the next."""
    torso = float(np.median(measure_trunk(select_both_sides(points, "shoulder"), select_both_sides(points, "hip"))))
    left, right = [a for a, _ in _PAIRS], [b for _, b in _PAIRS]
    same = _measure_movement(points[1:, left], points[:-1, left]) + _measure_movement(
        points[1:, right], points[:-1, right]
    )
    other = _measure_movement(points[1:, left], points[:-1, right]) + _measure_movement(
        points[1:, right], points[:-1, left]
    )
    apart = np.linalg.norm(points[:, left] - points[:, right], axis=2).max(axis=1)
    apart = np.minimum(apart[1:], apart[:-1])
    near = np.diff(times) <= SWAP_GAP_S
    return np.asarray(near & (other < SWAP_GAIN * same) & (apart > SWAP_APART * torso))


def find_swapped_stretches(recording: LandmarkRecording) -> tuple[tuple[float, float], ...]:
    """First and last second of each stretch in which left and right have changed places, in order of time.

    What `restore_sides` put back is none. Such a stretch begins and ends from one picture to the next, within pictures
    that follow one another, and lasts less long than the rest of them; inside it the lifter faces away from where they
    face before and after it. For a recording without a cut.
    """
    found = np.flatnonzero(np.isfinite(recording.pixels[:, INDEX["nose"], 0]))
    if len(found) < 2:
        return ()
    times, points, world = recording.t[found], recording.pixels[found], recording.world[found]
    line = np.zeros((len(found), 3))
    for part in ("shoulder", "hip"):
        line += world[:, INDEX[f"left_{part}"]] - world[:, INDEX[f"right_{part}"]]
    yaw = np.degrees(np.arctan2(-line[:, 2], line[:, 0]))
    turned = np.abs(wrap_degrees(np.diff(yaw)))
    change = ((np.diff(times) <= SWAP_GAP_S) & (turned > TURNS_AT_ONCE_DEG)) | _find_changes(times, points)
    gaps = np.flatnonzero(np.diff(times) > SWAP_GAP_S) + 1
    stretches: list[tuple[float, float]] = []
    for first, last in pairwise((0, *gaps.tolist(), len(times))):
        edges = (np.flatnonzero(change[first : last - 1]) + 1).tolist()
        for begin, end in _find_turned_away(yaw[first:last], edges):
            # Beside a change the model is between both orders.
            start_s, end_s = float(times[first + begin - 1]), float(times[min(first + end, last - 1)])
            if stretches and start_s - stretches[-1][1] < FLICKER_S:
                start_s = stretches.pop()[0]
            stretches.append((start_s, end_s))
    return tuple(stretches)


def fold_to_one_side(raised: Array, t: Array, stretches: Sequence[tuple[float, float]]) -> Array:
    """How far arms are raised (m,), degrees at times t, where left and right may have changed places: 0 to 180 there.

    An arm's raise is counted on from straight up or down across the body, so one that is near either and is taken for
    the other arm reads 360 degrees less its raise, or less than nothing by as much. At the ends of such a stretch the
    model changes arms and trunk in different pictures, so that neither order is right there; what both have in common
    is the arm's angle from straight down, whichever side it lies on. Good enough to count by.
    """
    inside = mark_inside(t, stretches)
    return np.where(inside, np.abs(wrap_degrees(raised)), raised)


def _find_turned_away(yaw: Array, edges: Sequence[int]) -> list[tuple[int, int]]:
    """Begin and end of the pieces between edges that face away from what is usual in these pictures (m,), degrees."""
    pieces = list(pairwise((0, *edges, len(yaw))))
    facing = [_compute_mean_direction(yaw[begin:end]) for begin, end in pieces]
    usual = _compute_mean_direction(np.concatenate([yaw[begin:end] for begin, end in _select_usual(pieces, facing)]))
    away = [abs(wrap_degrees(one - usual)) > 90.0 for one in facing]
    # The first and the last piece have no change before or after them: there the lifter may have turned.
    return [piece for piece, off in zip(pieces[1:-1], away[1:-1], strict=True) if off]


def _select_usual(pieces: Sequence[tuple[int, int]], facing: Sequence[float]) -> list[tuple[int, int]]:
    """Of the two ways in which the pieces face, those of the way that lasts longer."""
    lengths = [end - begin for begin, end in pieces]
    longest = facing[lengths.index(max(lengths))]
    same = [abs(wrap_degrees(one - longest)) <= 90.0 for one in facing]
    if 2 * sum(length for length, one in zip(lengths, same, strict=True) if one) < sum(lengths):
        same = [not one for one in same]
    return [piece for piece, one in zip(pieces, same, strict=True) if one]


def _compute_mean_direction(degrees: Array) -> float:
    """Mean of directions on the circle, degrees."""
    turn = np.radians(degrees)
    return float(np.degrees(np.arctan2(np.sin(turn).mean(), np.cos(turn).mean())))


def drop_stretches(recording: LandmarkRecording, stretches: Sequence[tuple[float, float]]) -> LandmarkRecording:
    """The recording with nobody found in these stretches of time."""
    gone = mark_inside(recording.t, stretches)
    if not gone.any():
        return recording
    pixels, world, visibility = recording.pixels.copy(), recording.world.copy(), recording.visibility.copy()
    pixels[gone], world[gone], visibility[gone] = np.nan, np.nan, 0.0
    return replace(recording, pixels=pixels, world=world, visibility=visibility)


def _measure_movement(now: Array, before: Array) -> Array:
    return np.asarray(np.linalg.norm(now - before, axis=2).sum(axis=1))


def note_parts(parts: Sequence[ClipPart]) -> tuple[Message, ...]:
    """One note on how a cut clip is measured; nothing where no more than one part holds repetitions."""
    lifting = [part for part in parts if part.reps]
    if len(lifting) < 2:
        return ()
    values: dict[str, MessageValue] = {
        "first_reps": tuple(min(part.reps) for part in lifting),
        "last_reps": tuple(max(part.reps) for part in lifting),
        "views": tuple(part.view.name for part in lifting),
    }
    return (Message("parts-apart", values),)


def note_scene(recording: LandmarkRecording) -> tuple[Message, ...]:
    """Notes about other people, cuts, and a camera that was not on a stand."""
    scene, notes = recording.scene, []
    if scene.doubtful:
        notes.append(Message("people-alike"))
    elif scene.others:
        notes.append(Message("other-people"))
    if scene.cuts:
        values = tuple(round(float(t), 1) for t in scene.cuts[:MOST_CUTS_NAMED])
        notes.append(Message("clip-cut", {"at_s": values, "more": len(scene.cuts) - len(values)}))
    if recording.sway is not None:
        notes.append(Message("phone-moved"))
    return tuple(notes)
