"""Curves cached from earlier analyses beside the landmarks they were read from, so that a limit or a rep can be changed
without fitting the body anew.

A file is found by what it was made from, to the bit: the landmarks as they went in, view, settings, and the code and
tables that read curves from them. Whatever changes one of these finds nothing and reads anew; files that are never
asked for any more are the first to go once the folder is full. All of them may be deleted at any time. No pickled
objects are written or read.
"""

import hashlib
import json
import os
import platform
import zipfile
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import scipy
from numpy.typing import NDArray

from formcheck import signals as signals_package
from formcheck.core.atomic_write import atomic_write, remove_stale_parts
from formcheck.core.model import SIDES, CameraView, LandmarkRecording, Settings, SignalKey, Signals
from formcheck.pose.recording import UNREADABLE
from formcheck.signals.angles import compute_signals
from formcheck.storage.recording_cache import CURVES_ENDING, entries_of, is_checksum

FORMAT = "formcheck-curves-2"
MOST_BYTES = 256 * 1024**2
"""All cached curves of a folder together; a set of a minute takes about 1 MB."""
LARGEST = 64 * 1024**2
"""A file that unpacks to more is not read."""


def _code() -> bytes:
    """What the curves depend on beside their arguments: our code and tables, the libraries that calculate, the machine.

    Taken when this module is loaded, as the code is: files replaced later belong to code that does not run yet.
    """
    package = Path(signals_package.__path__[0])
    digest = hashlib.sha256(f"{FORMAT} {np.__version__} {scipy.__version__} {platform.machine()}".encode())
    files = [*sorted(package.rglob("*.py")), *sorted(package.rglob("*.toml"))]
    for path in (*files, *(package.parent / "core" / name for name in ("model.py", "landmarks.py", "settings.py"))):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.digest()


_CODE = _code()


class CurveCache:
    """`formcheck.signals.angles.compute_signals`, read from a folder where the same was computed before.

    Parameters
    ----------
    folder : where the landmark recordings lie; made when needed.
    most_bytes : what all cached curves of the folder may take together; those used longest ago go first.

    A file that is damaged, or cannot be written, costs time, never the result.
    """

    def __init__(self, folder: str | Path, most_bytes: int = MOST_BYTES) -> None:
        self._folder, self._most = Path(folder), most_bytes
        self._last: tuple[LandmarkRecording, bytes] | None = None

    def __call__(
        self, recording: LandmarkRecording, view: CameraView, settings: Settings, *, masked: bool = True
    ) -> Signals:
        """All curves this view can show; parameters and result are those of `compute_signals`."""
        clip = recording.clip.sha256
        if not is_checksum(clip):  # a recording from elsewhere may hold any text, of which no path is made
            return compute_signals(recording, view, settings, masked=masked)
        options = json.dumps([asdict(view), asdict(settings), masked], sort_keys=True).encode()
        key = hashlib.sha256(_CODE + self._digest(recording) + options).hexdigest()
        path = self._folder / f"{clip[:32]}-{key[:40]}{CURVES_ENDING}"
        if (cached := read_curves(path, key)) is not None:
            with suppress(OSError):
                os.utime(path)
            return cached
        made = compute_signals(recording, view, settings, masked=masked)
        with suppress(OSError):
            write_curves(made, path, key)
            self._make_room()
        return made

    def _digest(self, recording: LandmarkRecording) -> bytes:
        """The landmarks and what is known of the clip, without its name."""
        if self._last is None or self._last[0] is not recording:
            clip = {name: value for name, value in asdict(recording.clip).items() if name != "name"}
            digest = hashlib.sha256(json.dumps([clip, asdict(recording.scene)], sort_keys=True).encode())
            for name in ("t", "pixels", "world", "visibility", "sway"):
                values = getattr(recording, name)
                digest.update(b"-" if values is None else np.ascontiguousarray(values).data)
            self._last = recording, digest.digest()
        return self._last[1]

    def _make_room(self) -> None:
        """Delete the files used longest ago that are too many, and halves left by processes that were killed."""
        remove_stale_parts(self._folder)
        found = []
        for entry in entries_of(self._folder, "", CURVES_ENDING):
            with suppress(OSError):  # another process may be making room too
                found.append((entry.stat().st_mtime_ns, entry.path, entry.stat().st_size))
        total = sum(size for _, _, size in found)
        for _, path, size in sorted(found):
            if total <= self._most:
                break
            with suppress(OSError):
                Path(path).unlink()
            total -= size


def write_curves(signals: Signals, path: Path, key: str) -> None:
    """Write curves; a file of that name is replaced in one step (OSError)."""
    meta: dict[str, Any] = {"format": FORMAT, "key": key, "body_missing": signals.body_missing}
    arrays: dict[str, NDArray[Any]] = {"t": signals.t}
    for name, curves in (("series", signals.series), ("sd", signals.sd)):
        meta[name] = [list(key) for key in curves]
        arrays[name] = np.stack(list(curves.values())) if curves else np.empty((0, len(signals.t)))
    arrays["meta"] = np.frombuffer(json.dumps(meta).encode(), dtype=np.uint8)
    path.parent.mkdir(parents=True, exist_ok=True)
    with atomic_write(path) as part, part.open("wb") as file:
        np.savez(file, allow_pickle=False, **arrays)


def read_curves(path: Path, key: str) -> Signals | None:
    """The curves; None where there are none, or none that can be trusted to be whole."""
    try:
        with zipfile.ZipFile(path) as archive:
            if sum(member.file_size for member in archive.infolist()) > LARGEST:
                return None
        with np.load(path, allow_pickle=False) as arrays:
            meta = json.loads(arrays["meta"].tobytes().decode())
            if (meta["format"], meta["key"]) != (FORMAT, key):
                return None
            t, series, sd = (np.asarray(arrays[name], dtype=np.float64) for name in ("t", "series", "sd"))
        names = [map(_read_name, meta[name]) for name in ("series", "sd")]
        curves, deviations = (dict(zip(*pair, strict=True)) for pair in zip(names, (series, sd), strict=True))
        return Signals(t, curves, deviations, bool(meta["body_missing"]))
    except UNREADABLE:
        return None


def _read_name(item: list[Any]) -> SignalKey:
    name, side = item
    if not (isinstance(name, str) and (side is None or side in SIDES)):
        raise ValueError("not the name of a curve")
    return name, side
