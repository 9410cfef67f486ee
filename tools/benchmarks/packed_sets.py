"""Rendered sets as they are committed: landmarks and truth, an ``.npz`` file each inside xz.

Integers (value times steps) are stored as differences from picture to picture, point by point, low bytes apart from
high ones, which xz packs to two thirds of what an ordinary ``.npz`` file takes.
"""

from __future__ import annotations

import io
import json
import lzma
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import ClipInfo, LandmarkRecording, PoseModelInfo, Scene
from formcheck.pose.fast_strokes import has_fast_stroke
from formcheck.video.chunks import TRACKED_PER_S, KeyPicture, choose_fine_rate, plan_chunks, take_at_rate

STEPS = {"pixels": 8, "world": 256, "visibility": 64}
"""Landmarks are stored to 1/8 pixel, 1/256 metre and 1/64: far below what they shake by."""
METRE_STEPS, TIME_STEPS = 1000, 100_000
"""Truth is stored to 1 mm and 0.01 ms."""
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PackedTruth:
    """What is known of a rendered set."""

    document: dict[str, Any]
    """Lifter, room, camera, plan, planted faults and reps, as JSON."""
    t: Floats
    """(n,) seconds."""
    names: tuple[str, ...]
    """Names of the points."""
    points: Floats
    """(n, k, 3) metres in the room: x to the lifter's left, y backwards, z up."""


def packed_folder(part: str) -> Path:
    """Where the packed sets of a part are."""
    return Path(__file__).parent / "recordings" / "sets" / part


def pack_truth(truth: PackedTruth, path: Path) -> None:
    """Write what is known of a set."""
    document = {**truth.document, "points": list(truth.names)}
    arrays: dict[str, NDArray[Any]] = {"meta": _text(document), "t": np.round(truth.t * TIME_STEPS).astype(np.int64)}
    arrays |= _pack("points", truth.points, METRE_STEPS, order=2)
    _write(arrays, path)


def unpack_truth(path: Path) -> PackedTruth:
    """Read what is known of a set."""
    arrays = _read(path)
    document = json.loads(arrays["meta"].tobytes().decode())
    names = tuple(document.pop("points"))
    points = _unpack("points", arrays, METRE_STEPS, (len(names), 3), order=2)
    return PackedTruth(document, arrays["t"] / TIME_STEPS, names, points)


def pack_recording(recording: LandmarkRecording, path: Path) -> None:
    """Write a landmark recording."""
    found = np.isfinite(recording.pixels).all(axis=(1, 2)) & np.isfinite(recording.world).all(axis=(1, 2))
    meta: dict[str, Any] = {name: asdict(getattr(recording, name)) for name in ("clip", "pose_model", "scene")}
    meta["steps"] = STEPS
    arrays: dict[str, NDArray[Any]] = {"meta": _text(meta), "t": recording.t, "found": np.asarray(found)}
    for name, steps in STEPS.items():
        arrays |= _pack(name, getattr(recording, name)[found], steps)
    if recording.sway is not None:
        arrays["sway"] = recording.sway.astype(np.float32)
    _write(arrays, path)


def unpack_recording(path: Path) -> LandmarkRecording:
    """Read a landmark recording."""
    arrays = _read(path)
    meta = json.loads(arrays["meta"].tobytes().decode())
    found = arrays["found"]
    count = int(np.prod(arrays["pixels.first"].shape)) // 2

    def whole(name: str, shape: tuple[int, ...], missing: float) -> Floats:
        values = np.full((len(found), *shape), missing)
        values[found] = _unpack(name, arrays, meta["steps"][name], shape)
        return values

    return LandmarkRecording(
        clip=ClipInfo(**meta["clip"]),
        pose_model=PoseModelInfo(**meta["pose_model"]),
        t=arrays["t"],
        pixels=whole("pixels", (count, 2), np.nan),
        world=whole("world", (count, 3), np.nan),
        visibility=whole("visibility", (count,), 0.0),
        scene=Scene(**{**meta["scene"], "cuts": tuple(meta["scene"]["cuts"])}),
        sway=arrays["sway"].astype(np.float64) if "sway" in arrays else None,
    )


def thin_recording(recording: LandmarkRecording, rate: float) -> LandmarkRecording:
    """A recording at fewer pictures a second: what they would have given, but for the tracking itself."""
    return take_pictures(recording, take_at_rate(recording.t, rate))


def thin_like_product(recording: LandmarkRecording) -> LandmarkRecording:
    """A recording of every picture, without those that formcheck does not track."""
    return take_pictures(recording, choose_pictures(recording)[0])


def choose_pictures(recording: LandmarkRecording) -> tuple[NDArray[np.bool_], list[bool]]:
    """(n,) which pictures formcheck tracks, and for each chunk whether it is tracked again with more of them.

    The chunks are those of a clip in which decoding can begin at every picture.
    """
    t = recording.t
    taken, again = take_at_rate(t, TRACKED_PER_S), []
    for chunk in plan_chunks([KeyPicture(float(at), i) for i, at in enumerate(t)], float(t[-1])):
        inside = (t >= chunk.from_s) & (t < chunk.until_s)
        few = taken & inside
        fast = bool(few.sum() < inside.sum())
        fast = fast and has_fast_stroke(t[few], recording.pixels[few], recording.visibility[few])
        if fast:
            rate = choose_fine_rate(t[inside])
            taken[inside] = True if rate is None else take_at_rate(t, rate)[inside]
        again.append(fast)
    return taken, again


def take_pictures(recording: LandmarkRecording, taken: NDArray[np.bool_]) -> LandmarkRecording:
    """The recording with these of its pictures (n,) only."""
    return replace(
        recording,
        t=recording.t[taken],
        pixels=recording.pixels[taken],
        world=recording.world[taken],
        visibility=recording.visibility[taken],
        sway=None if recording.sway is None else recording.sway[taken],
    )


def _text(document: dict[str, Any]) -> NDArray[np.uint8]:
    return np.frombuffer(json.dumps(document, separators=(",", ":")).encode(), dtype=np.uint8)


def _pack(name: str, values: Floats, steps: int, *, order: int = 1) -> dict[str, NDArray[Any]]:
    """First rows whole, the rest as differences of an order in 16 bits, each value's own series after the other."""
    whole = np.round(values.reshape(len(values), -1) * steps).astype(np.int64)
    first = whole[:order]
    rest = np.diff(whole, n=order, axis=0) if len(whole) > order else whole[:0]
    if len(rest) and np.abs(rest).max() > np.iinfo(np.int16).max:
        raise ValueError(f"{name} jumps too far from picture to picture to be packed")
    split = np.ascontiguousarray(rest.T.astype("<i2")).view(np.uint8).reshape(-1, 2).T
    return {f"{name}.first": first, f"{name}.rest": np.ascontiguousarray(split)}


def _unpack(
    name: str, arrays: dict[str, NDArray[Any]], steps: int, shape: tuple[int, ...], *, order: int = 1
) -> Floats:
    first, split = arrays[f"{name}.first"], arrays[f"{name}.rest"]
    rest = np.ascontiguousarray(split.T).view("<i2").reshape(first.shape[1], -1).T.astype(np.int64)
    if order == 2 and len(first) == 2:
        steps_between = np.vstack([first[1:] - first[:1], rest]).cumsum(axis=0)
        whole = np.vstack([first[:1], steps_between]).cumsum(axis=0)
    else:
        whole = np.vstack([first, rest]).cumsum(axis=0)
    return np.asarray(whole.reshape(len(whole), *shape) / steps)


def _write(arrays: dict[str, NDArray[Any]], path: Path) -> None:
    buffer = io.BytesIO()
    np.savez(buffer, allow_pickle=False, **arrays)
    part = path.with_suffix(".part")
    part.write_bytes(lzma.compress(buffer.getvalue(), preset=9))
    part.replace(path)


def _read(path: Path) -> dict[str, NDArray[Any]]:
    with np.load(io.BytesIO(lzma.decompress(path.read_bytes())), allow_pickle=False) as arrays:
        return {name: arrays[name] for name in arrays.files}
