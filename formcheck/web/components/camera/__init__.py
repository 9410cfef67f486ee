"""The computer's camera: what it sees, a countdown, and a film sent to the page in pieces while it is taken."""

import re
from dataclasses import dataclass
from typing import Any

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from formcheck.storage.film_pieces import MOST_PIECES, NAME, PIECE_S
from formcheck.web.arriving_films import ROUTE
from formcheck.web.components.assets import declare_component

TEST_S = 3
"""So long a film of how the camera stands lasts."""
WORDS = {
    "insecure": "This browser gives no camera to this page: open it on the computer it runs on, or over HTTPS.",
    "unknown": "This browser cannot film: take a current one, or film with a phone.",
    "refused": "The browser may not use the camera: allow it beside the address of this page, then turn it on again.",
    "missing": "No camera was found: plug one in, then turn it on again.",
    "busy": "The camera gives no picture: close other programs that use it, then turn it on again.",
    "silent": "No microphone is allowed, so the film has no sound.",
    "ready": "The camera is on; nothing is filmed yet.",
    "leading": "Filming begins in {} seconds. Esc cancels.",
    "filming": "Filming. Space, Enter or Esc ends it.",
    "testing": "Filming three seconds: stay as you are.",
    "sending": "Sending the rest.",
    "sent": "The film is here.",
    "looking": "Looking at it: the answer will stand beside the drawings.",
    "unplugged": "The camera was taken away, so the film ends here.",
    "unsent": "The page cannot be reached. What has arrived is kept and listed below once the page answers again.",
    "empty": "The camera gave no film: try again.",
}
"""What the page says of the camera; none of it comes from the browser."""

_mount = declare_component("camera", "camera.html", "../buttons.css", "camera.css", "sender.js", "camera.js")


@dataclass(frozen=True, slots=True)
class FilmTaken:
    """A film whose last piece was sent."""

    session: str
    """Of the visitor who took it."""
    name: str
    pieces: int

    @property
    def is_test(self) -> bool:
        """Whether it was taken to see how the camera stands."""
        return self.name.startswith("test-")


def mount_camera(key: str) -> FilmTaken | None:
    """Put the camera into the page; the film that was taken since the last run, None where none was."""
    context = get_script_run_ctx()
    session = "" if context is None else context.session_id
    data = {
        "session": session,
        "route": "/".join(filter(None, ("", st.get_option("server.baseUrlPath").strip("/"), ROUTE))),
        "test": TEST_S,
        "piece": PIECE_S,
        "words": WORDS,
    }
    sent: Any = _mount(key=key, data=data, height="content", on_film_change=_ignore)
    return read_film(getattr(sent, "film", None), session)


def read_film(sent: Any, session: str) -> FilmTaken | None:
    """The film that a browser named; None where it named none."""
    if not isinstance(sent, dict):
        return None
    name, pieces = sent.get("name"), sent.get("pieces")
    if not (isinstance(name, str) and re.fullmatch(NAME, name) and isinstance(pieces, int)):
        return None
    return FilmTaken(session, name, pieces) if 0 < pieces <= MOST_PIECES else None


def _ignore() -> None:
    """What was filmed is read where the component is mounted."""
