"""Rendered sets as the benchmarks use them: landmarks, exercise, truth, and what made the picture hard.

A folder holds either clips with a truth file beside each (``<clip>.mp4``, ``<clip>.truth.json``; the format is in
clips_demo/README.md) or, packed, the landmarks seen in them and the same truth (``<clip>.npz``,
``<clip>.truth.npz``), which needs neither the clips nor the pose model.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import Array, LandmarkRecording
from formcheck.pose.recording import load_recording, save_recording
from formcheck.storage.recording_cache import cached_recording

HERE = Path(__file__).parent
CACHE = HERE / ".cache"
FOLDERS = {
    "tuning": HERE / "recordings" / "tuning",
    "plain": HERE / "recordings" / "plain",
    "shipped": HERE.parents[1] / "clips_demo",
}
"""Where the sets of each part are."""
SHIPPED = HERE / "recordings" / "shipped"
"""Landmarks of the shipped clips; their truth lies beside the clips."""
ANGLE_STEPS, JOINT_STEPS, TIME_STEPS = 100, 1000, 100_000
"""Truth is packed to 0.01 degrees, 1 mm and 0.01 ms."""
_GUESS = {"lateral": "lateral-raise", "bent": "bent-over-lateral-raise", "press": "guided-bar-press"}


@dataclass(frozen=True, eq=False)
class Case:
    """One rendered set: its landmarks, its exercise and its truth."""

    name: str
    exercise: str
    recording: LandmarkRecording
    t: Array
    truth: dict[str, Array]
    """Curve name of the truth file → (n,) degrees."""
    joints: dict[str, Array]
    """Joint centre → (n, 3) metres in the room (x to the lifter's left, y backwards, z up); empty when unknown."""
    planned: tuple[tuple[float, float], ...]
    """Planned start and end of each repetition, seconds."""
    complete: tuple[bool, ...]
    """Whether each repetition is a whole one."""
    faults: tuple[tuple[str, tuple[int, ...]], ...]
    """What was planted, and in which repetitions (from 1)."""
    yaw: float | None
    """The camera's true angle around the lifter, when the truth file says it."""
    no_exercise: str | None
    """What the lifter does instead of the exercise, or None."""
    conditions: frozenset[str]
    """What is out of the ordinary in this clip, in words (`conditions_of`)."""


def load_cases(folder: Path) -> Iterator[Case]:
    """Every set of a folder, in the order of their names."""
    for path in sorted(folder.glob("*.truth.npz")):
        document, frames, joints = _unpacked_truth(path)
        name = path.name.removesuffix(".truth.npz")
        yield _case(name, load_recording(folder / f"{name}.npz"), document, frames, joints)
    for clip in sorted(folder.glob("*.mp4")):
        if (truth := clip.with_name(f"{clip.stem}.truth.json")).exists():
            document, frames, joints = _read_truth(truth)
            yield _case(clip.stem, recording_of(clip), document, frames, joints)


def recording_of(clip: Path) -> LandmarkRecording:
    """The clip's landmarks: those committed of a shipped clip, else tracked once and kept in tools/benchmarks/.cache.

    The pose model rounds otherwise on another processor, so that what is printed of the shipped clips would differ.
    """
    packed = SHIPPED / f"{clip.stem}.npz"
    if clip.resolve().parent == FOLDERS["shipped"].resolve() and packed.is_file():
        return load_recording(packed)
    return tracked(clip)


def tracked(clip: Path) -> LandmarkRecording:
    """The clip's landmarks as this machine's pose model finds them."""
    from formcheck.pose.estimator import MediaPipeEstimator  # slow to load, and packed sets do not need it

    return cached_recording(clip, MediaPipeEstimator, CACHE)


def pack(clip: Path, folder: Path, *, with_joints: bool = True) -> None:
    """Write a clip's landmarks and truth into a folder, so that the clip is no longer needed."""
    document, frames, joints = _read_truth(clip.with_name(f"{clip.stem}.truth.json"))
    save_recording(recording_of(clip), folder / f"{clip.stem}.npz")
    arrays: dict[str, NDArray[Any]] = {"meta": np.frombuffer(json.dumps(document).encode(), dtype=np.uint8)}
    arrays["t"] = np.round(frames.pop("t") * TIME_STEPS).astype(np.int32)
    for name, values in frames.items():
        arrays[f"frames.{name}"] = _differences(values, ANGLE_STEPS)
    for name, values in (joints if with_joints else {}).items():
        arrays[f"joints.{name}"] = _differences(values, JOINT_STEPS)
    np.savez_compressed(folder / f"{clip.stem}.truth.npz", allow_pickle=False, **arrays)


def _differences(values: Array, steps: int) -> NDArray[np.int32]:
    whole = np.round(values * steps).astype(np.int32)
    return np.diff(whole, axis=0, prepend=np.zeros_like(whole[:1]))


def _unpacked_truth(path: Path) -> tuple[dict[str, Any], dict[str, Array], dict[str, Array]]:
    with np.load(path, allow_pickle=False) as arrays:
        document = json.loads(arrays["meta"].tobytes().decode())
        found: dict[str, dict[str, Array]] = {"frames": {"t": arrays["t"] / TIME_STEPS}, "joints": {}}
        for key in arrays.files:
            kind, _, name = key.partition(".")
            if kind in found:
                steps = ANGLE_STEPS if kind == "frames" else JOINT_STEPS
                found[kind][name] = np.cumsum(arrays[key], axis=0, dtype=np.int64) / steps
    return document, found["frames"], found["joints"]


def _read_truth(path: Path) -> tuple[dict[str, Any], dict[str, Array], dict[str, Array]]:
    """What a truth file says of the set, its curves, and its joints; the pixels of the joints are left out."""
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    frames = columns(document.pop("frames"))
    document.pop("joints_px", None)
    joints = {name: np.array(values, dtype=float) for name, values in document.pop("joints_m", {}).items()}
    return document, frames, joints


def columns(frames: Any) -> dict[str, Array]:
    """Frames of a truth file, written as rows or as columns, → columns."""
    if isinstance(frames, dict):
        return {key: np.array(values, dtype=float) for key, values in frames.items()}
    return {key: np.array([row[key] for row in frames], dtype=float) for key in frames[0]}


def _case(
    name: str,
    recording: LandmarkRecording,
    document: dict[str, Any],
    frames: dict[str, Array],
    joints: dict[str, Array],
) -> Case:
    reps = document["reps"]
    return Case(
        name=name,
        exercise=exercise_of(document),
        recording=recording,
        t=frames["t"],
        truth={key: values for key, values in frames.items() if key != "t"},
        joints=joints,
        planned=tuple((rep["start"], rep["end"]) for rep in reps),
        complete=tuple(bool(rep.get("complete", True)) for rep in reps),
        faults=tuple((fault["kind"], tuple(fault["reps"])) for fault in document.get("faults", ())),
        yaw=document.get("camera", {}).get("yaw"),
        no_exercise=document.get("no_exercise"),
        conditions=conditions_of(document),
    )


def exercise_of(document: Mapping[str, Any]) -> str:
    """Exercise id of a truth file; older files name only the movement."""
    if "exercise" in document:
        return str(document["exercise"])
    spec = document["spec"]
    if spec["exercise"] == "lateral" and max(rep.get("high", 0) for rep in spec["reps"]) > 130:
        return "overhead-lateral-raise"
    return _GUESS[spec["exercise"]]


def conditions_of(document: Mapping[str, Any]) -> frozenset[str]:
    """What is out of the ordinary in a set of the benchmark, in words."""
    if "trouble" not in document:
        return frozenset()
    trouble, camera, spec = document["trouble"], document["camera"], document["spec"]
    spoil, look, body = trouble["spoil"], spec["look"], spec["body"]
    contrast = float(np.linalg.norm(np.subtract(look["shirt"], spec["room"]["wall"])))
    said = {
        "motion blur": spoil["exposure"] > 0 and spoil["light"] == 1,
        "sensor noise": spoil["noise"] > 0 and spoil["light"] == 1,
        "low light": spoil["light"] < 1,
        "strong compression": spoil["crf"] > 30,
        "second person still": trouble["person"] == "still",
        "second person walking": trouble["person"] == "walking",
        "mirror": trouble["mirror"],
        "something before the body": trouble["before"] != "nothing",
        "second build": "girdle" in body,
        "shirt like the wall": contrast < 0.25,
        "dark skin": look["skin"][0] < 0.5,
        "loose clothes": look["shirt_ease"] > 0.012,
        "heavy": body["weight"] > 0.7,
        "camera below 0.8 m": camera["height"] < 0.8,
        "camera above 1.5 m": camera["height"] > 1.5,
        "farther than 4.5 m": camera["distance"] > 4.5,
        "nearer than 3.2 m": camera["distance"] < 3.2,
        "camera tilted": abs(camera["roll"]) > 1.0,
        "480 lines": min(camera["width"], camera["height_px"]) <= 480,
        "50 or 60 frames a second": document["fps"] > 40,
        "variable rate": document["variable_rate"],
    }
    return frozenset(name for name, there in said.items() if there)
