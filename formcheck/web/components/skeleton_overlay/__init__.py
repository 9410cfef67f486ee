"""Two skeletons over each other at the same phase of a rep, with a slider through the rep."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from formcheck.core.model import Array
from formcheck.report.phases import FirstPhase
from formcheck.signals.skeleton import BODY, BONES
from formcheck.web.charts.phase_axis import STEPS
from formcheck.web.components.assets import declare_component

_mount = declare_component("skeleton_overlay", "overlay.html", "overlay.css", "../chart_cursor.js", "overlay.js")


def make_overlay_data(tracks: Sequence[Array], first: FirstPhase, scope: str) -> dict[str, Any]:
    """What the browser needs: numbers and fixed words, nothing a user wrote.

    Parameters
    ----------
    tracks : two of (steps, parts of `BODY`, 2) in trunk lengths; NaN = unseen.
    scope : key of the container whose charts get a line at the phase shown.
    """
    known = np.concatenate([track[np.isfinite(track).all(axis=2)] for track in tracks])
    low, high = (known.min(axis=0), known.max(axis=0)) if len(known) else (np.zeros(2), np.ones(2))
    phases = ["lifting", "lowering"] if first == "concentric" else ["lowering", "lifting"]
    return {
        "scope": scope,
        "steps": STEPS,
        "phases": phases,
        "box": [round(float(value), 2) for value in (*(low - 0.3), *(high - low + 0.6))],
        "bones": [[BODY.index(start), BODY.index(end)] for start, end in BONES],
        "tracks": [
            [[None if not np.isfinite(value) else round(float(value), 3) for value in row.ravel()] for row in track]
            for track in tracks
        ],
    }


def mount_overlay(data: dict[str, Any], key: str) -> None:
    """Put the drawing and its slider into the page."""
    _mount(key=key, data=data, height="content")
