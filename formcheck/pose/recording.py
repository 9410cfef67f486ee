"""Landmark recordings on disk: one compressed ``.npz`` file each, loaded as exactly what was saved.

The file holds the arrays ``t`` (float64 seconds), ``pixels``, ``world`` and ``visibility`` (integers: value times
steps, stored as differences from frame to frame, which compress well), ``found`` (frames with a person), ``sway``
where the camera moved, and ``meta`` (JSON text: format, version, clip, pose model, scene). No pickled objects are
written or read.
"""

import json
import tokenize
import zipfile
import zlib
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formcheck.core.atomic_write import atomic_write
from formcheck.core.errors import RecordingError, quote_name
from formcheck.core.model import LANDMARK_COUNT, ClipDamage, ClipInfo, LandmarkRecording, PoseModelInfo, Scene
from formcheck.pose.tracking import PIXEL_STEPS, TRACKER_VERSION, VISIBILITY_STEPS, WORLD_STEPS

FORMAT = "formcheck-landmarks"
FORMAT_VERSION = 1
MAX_BYTES = 512 * 1024**2
"""A recording that unpacks to more is refused: a quarter of an hour at 240 frames a second needs about 180 MB."""

Ints = NDArray[np.int32]
UNREADABLE = (
    OSError,
    EOFError,
    ValueError,
    KeyError,
    TypeError,
    IndexError,
    MemoryError,
    RuntimeError,  # packed in a way or by a version that Python does not read, or encrypted
    zipfile.BadZipFile,
    zlib.error,
    tokenize.TokenError,  # the header of an array that ends within a bracket
)
"""What reading a damaged packed file may raise."""


def save_recording(recording: LandmarkRecording, path: str | Path) -> None:
    """Write a recording; a file of that name is replaced in one step.

    Positions are kept to 1/32 pixel and 1/1024 metre, visibility to 1/256: the steps `track_clip` rounds to, so its
    recordings are loaded to the bit. Raises RecordingError when the file cannot be written.
    """
    path = Path(path)
    found = np.isfinite(recording.pixels).all(axis=(1, 2)) & np.isfinite(recording.world).all(axis=(1, 2))
    meta = {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "tracker": TRACKER_VERSION,
        "clip": asdict(recording.clip),
        "pose_model": asdict(recording.pose_model),
        "scene": asdict(recording.scene),
        "damage": None if recording.damage is None else asdict(recording.damage),
    }
    arrays: dict[str, NDArray[Any]] = {
        "meta": np.frombuffer(json.dumps(meta).encode(), dtype=np.uint8),
        "t": recording.t,
        "found": np.asarray(found),
        "pixels": _pack(recording.pixels[found], PIXEL_STEPS),
        "world": _pack(recording.world[found], WORLD_STEPS),
        "visibility": _pack(recording.visibility[found], VISIBILITY_STEPS),
    }
    if recording.sway is not None:
        arrays["sway"] = recording.sway
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with atomic_write(path, durable=True) as part, part.open("wb") as file:
            np.savez_compressed(file, allow_pickle=False, **arrays)
    except OSError as error:
        raise RecordingError(f"The landmark recording {path} cannot be written: {error.strerror}.") from None


def load_recording(path: str | Path) -> LandmarkRecording:
    """Read a recording; raises RecordingError when it is missing, damaged or of another version."""
    path = Path(path)
    try:
        with zipfile.ZipFile(path) as archive:
            if sum(member.file_size for member in archive.infolist()) > MAX_BYTES:
                raise RecordingError(f"The landmark recording {quote_name(path)} is too large.")
        with np.load(path, allow_pickle=False) as arrays:
            meta = json.loads(arrays["meta"].tobytes().decode())
            if meta["format"] != FORMAT or meta["version"] != FORMAT_VERSION:
                raise RecordingError(f"The landmark recording {quote_name(path)} is of another version of formcheck.")
            found = np.asarray(arrays["found"], dtype=bool)
            return LandmarkRecording(
                clip=ClipInfo(**meta["clip"]),
                pose_model=PoseModelInfo(**meta["pose_model"]),
                t=arrays["t"],
                pixels=_unpack(arrays["pixels"], found, PIXEL_STEPS, np.nan),
                world=_unpack(arrays["world"], found, WORLD_STEPS, np.nan),
                visibility=_unpack(arrays["visibility"], found, VISIBILITY_STEPS, 0.0),
                scene=_decode_scene(meta.get("scene")),
                sway=arrays.get("sway", None),
                damage=_decode_damage(meta.get("damage")),
            )
    except FileNotFoundError:
        raise RecordingError(f"The landmark recording {quote_name(path)} does not exist.") from None
    except UNREADABLE:
        raise RecordingError(f"The landmark recording {quote_name(path)} is damaged.") from None


def _decode_scene(values: dict[str, Any] | None) -> Scene:
    """What a recording says of the scene; older ones say nothing."""
    return Scene() if values is None else Scene(**{**values, "cuts": tuple(float(t) for t in values["cuts"])})


def _decode_damage(values: dict[str, Any] | None) -> ClipDamage | None:
    """What a recording says its clip lost; older ones say nothing."""
    return None if values is None else ClipDamage(float(values["read_s"]), float(values["length_s"]))


def _pack(values: NDArray[np.float64], steps: int) -> Ints:
    """(k, ...) values as integers, the first frame whole, the others as differences from the frame before."""
    limit = 2**30  # so that a difference of two fits as well
    whole = np.clip(np.round(values * steps), -limit, limit).astype(np.int32)
    return np.diff(whole, axis=0, prepend=np.zeros_like(whole[:1])) if len(whole) else whole


def _unpack(stored: Ints, found: NDArray[np.bool_], steps: int, missing: float) -> NDArray[np.float64]:
    """(n, ...) values; frames without a person are filled with `missing`."""
    if stored.dtype != np.int32 or stored.ndim < 2 or stored.shape[1] != LANDMARK_COUNT:
        raise ValueError("not a stored landmark array")
    values = np.full((len(found), *stored.shape[1:]), missing)
    values[found] = np.cumsum(stored, axis=0, dtype=np.int64) / steps
    return values
