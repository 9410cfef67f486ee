"""The part of the page that ties the clip to findings, reps and curves: a click anywhere moves the clip."""

from pathlib import Path
from typing import Any, Literal

import streamlit as st

from formcheck.model import Review
from formcheck.report.phases import PHASE_WORDS, phase_spans

_FOLDER = Path(__file__).parent
_mount = st.components.v2.component(
    "formcheck_player",
    html=(_FOLDER / "player.html").read_text(encoding="utf-8"),
    css=(_FOLDER / "player.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "player.js").read_text(encoding="utf-8"),
)


def player_data(review: Review, first: Literal["concentric", "eccentric"], *, scope: str, clip: str) -> dict[str, Any]:
    """What the player needs to know: times in seconds of the clip and fixed words, nothing a user wrote.

    Parameters
    ----------
    scope : key of the container whose elements may move the clip.
    clip : key of the container that holds the clip.
    """
    reps = [
        {
            "number": rep.number,
            "start": rep.start_s,
            "top": rep.top_s,
            "end": rep.end_s,
            "phases": [
                {"words": PHASE_WORDS[span.name], "start": span.start_s, "end": span.end_s}
                for span in phase_spans(rep, first)
            ],
        }
        for rep in review.reps
    ]
    return {"scope": scope, "clip": clip, "rate": review.clip.frame_rate, "reps": reps}


def mount_player(data: dict[str, Any], key: str) -> None:
    """Put the controls under the clip."""
    _mount(key=key, data=data)
