"""Landmarks as a standing camera, and a model that never takes left for right, would have given them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from formcheck.model import Array, ClipPart, LandmarkRecording
from formcheck.signals.skeleton import INDEX, NAMES
from formcheck.vocabulary.numbers import rep_list

SWAP_GAIN = 0.4
"""Left and right have changed places when the landmarks moved this much less, taken the other way round, ..."""
SWAP_APART = 0.3
"""... and shoulders or hips lie this many torso lengths apart: nearer ones tell nothing."""
SWAP_GAP_S = 0.25
"""Pictures further apart are not compared."""
SWAP_LASTS_S = 0.5
"""A change that is not taken back within this time may be the lifter turning round, and is left as it is."""

MIRRORED = [INDEX[name.replace("left", "?").replace("right", "left").replace("?", "right")] for name in NAMES]
"""For each landmark the one of the other side."""
_PAIRS = [(INDEX[f"left_{part}"], INDEX[f"right_{part}"]) for part in ("shoulder", "hip", "knee")]


def steadied(recording: LandmarkRecording) -> LandmarkRecording:
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


def sides_kept(recording: LandmarkRecording) -> LandmarkRecording:
    """The recording with left and right put back where the model took one for the other for a while.

    The same recording comes back where nothing was swapped.
    """
    swapped = swaps(recording)
    if not swapped.any():
        return recording
    pixels, world, visibility = recording.pixels.copy(), recording.world.copy(), recording.visibility.copy()
    for values in (pixels, world, visibility):
        values[swapped] = values[swapped][:, MIRRORED]
    return replace(recording, pixels=pixels, world=world, visibility=visibility)


def swaps(recording: LandmarkRecording) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    """(n,) whether left and right change places in a picture and back again soon after."""
    turned = np.zeros(len(recording.t), dtype=bool)
    found = np.flatnonzero(np.isfinite(recording.pixels[:, INDEX["nose"], 0]))
    if len(found) < 2:
        return turned
    points = recording.pixels[found]
    torso = float(np.median(_torso(points)))
    left, right = [a for a, _ in _PAIRS], [b for _, b in _PAIRS]
    kept = _moved(points[1:, left], points[:-1, left]) + _moved(points[1:, right], points[:-1, right])
    other = _moved(points[1:, left], points[:-1, right]) + _moved(points[1:, right], points[:-1, left])
    apart = np.linalg.norm(points[:, left] - points[:, right], axis=2).max(axis=1)
    apart = np.minimum(apart[1:], apart[:-1])
    near = np.diff(recording.t[found]) <= SWAP_GAP_S
    change = near & (other < SWAP_GAIN * kept) & (apart > SWAP_APART * torso)
    times, changes = recording.t[found], np.flatnonzero(change) + 1
    at = 0
    while at + 1 < len(changes):
        begin, end = changes[at], changes[at + 1]
        if times[end] - times[begin] <= SWAP_LASTS_S:
            turned[found[begin:end]] = True
            at += 2
        else:
            at += 1
    return turned


def _moved(now: Array, before: Array) -> Array:
    return np.asarray(np.linalg.norm(now - before, axis=2).sum(axis=1))


def _torso(points: Array) -> Array:
    shoulders = (points[:, INDEX["left_shoulder"]] + points[:, INDEX["right_shoulder"]]) / 2
    hips = (points[:, INDEX["left_hip"]] + points[:, INDEX["right_hip"]]) / 2
    return np.asarray(np.linalg.norm(shoulders - hips, axis=1))


def parts_notes(parts: Sequence[ClipPart]) -> tuple[str, ...]:
    """One sentence on how a cut clip is measured; nothing where no more than one part holds repetitions."""
    lifting = [part for part in parts if part.reps]
    if len(lifting) < 2:
        return ()
    where = {"front": "the front", "back": "behind", "left": "the left", "right": "the right", "oblique": "an angle"}
    changes = len({part.view.name for part in lifting}) > 1
    told = [f"{rep_list(part.reps)}{f' from {where[part.view.name]}' if changes else ''}" for part in lifting]
    return (
        f"What lies between its parts is not known, so each is measured for itself ({'; '.join(told)}), "
        "and early and late reps are compared only within the part with most reps.",
    )


def scene_notes(recording: LandmarkRecording) -> tuple[str, ...]:
    """Sentences for the user about other people, cuts, and a camera that was not on a stand."""
    scene, notes = recording.scene, []
    if scene.doubtful:
        notes.append(
            "Two people are about equally in view: see in the pictures whether the right one is measured, "
            "and film with nobody else in the picture."
        )
    elif scene.others:
        notes.append("Other people are in view; the one who trains is followed. Film with nobody else in the picture.")
    if scene.cuts:
        times = ", ".join(f"{t:.1f} s" for t in scene.cuts[:4])
        more = " and more often" if len(scene.cuts) > 4 else ""
        notes.append(f"The clip is cut at {times}{more}: a repetition that a cut goes through is not counted.")
    if recording.sway is not None:
        notes.append("The phone moved while filming; its movement is taken out as far as it can be. Put it on a stand.")
    return tuple(notes)
