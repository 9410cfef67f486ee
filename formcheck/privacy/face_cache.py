"""Where faces were found in a clip, kept beside what is drawn of it, so that one look through it serves every file.

What is kept holds for the same clip and the same way of looking only; anything else found in its place, or anything
that cannot be read, counts as nothing kept.
"""

import json
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np

from formcheck.core.atomic_write import replace_file
from formcheck.core.model import Array

FORMAT = "formcheck-faces-1"
LARGEST = 64 * 1024**2
"""A file larger than this is not read."""


def read_faces(path: Path, made_from: Mapping[str, Any]) -> tuple[Array, Array] | None:
    """What was kept.

    Parameters
    ----------
    made_from : what the faces depend on: the clip and the way of looking.

    Returns
    -------
    (n,) seconds in order and (n, 3) x, y and radius in pixels; None where nothing made from the same is kept.
    """
    try:
        if path.stat().st_size > LARGEST:
            return None
        kept = json.loads(path.read_text(encoding="utf-8"))
        if kept["format"] != FORMAT or kept["made_from"] != made_from:
            return None
        t = np.array(kept["t"], dtype=float)
        circles = np.array(kept["circles"], dtype=float).reshape(-1, 3)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
    whole = t.shape == (len(circles),) and np.isfinite(t).all() and np.isfinite(circles).all()
    return (t, circles) if whole and (np.diff(t) >= 0).all() else None


def write_faces(path: Path, made_from: Mapping[str, Any], t: Array, circles: Array) -> None:
    """Keep them in one step; where the folder is missing or cannot be written to, nothing is kept."""
    if not path.parent.is_dir():
        return
    text = json.dumps({"format": FORMAT, "made_from": made_from, "t": t.tolist(), "circles": circles.tolist()})
    with suppress(OSError):
        replace_file(path, text)
