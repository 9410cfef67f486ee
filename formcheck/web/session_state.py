"""What the page remembers for one visitor, in one typed object."""

import re
from dataclasses import dataclass, field
from typing import Literal, cast

import streamlit as st

_KEY = "formcheck_state"


@dataclass
class InboxView:
    """How the list of reviewed sets is looked at."""

    sought: str = ""
    """A part of a name."""
    shown: Literal["open", "new", "done", "all"] = "open"
    sort: str = "day"
    backwards: bool = True
    listed: int = 40
    """How many rows are shown."""
    order: list[int] = field(default_factory=list)
    """The reviews as listed last, for the ways from one to the next."""


@dataclass
class PageState:
    """The visitor's place in the work; the address bar holds what must survive a refresh."""

    job_id: str | None = None
    """The running or failed review shown."""
    review_id: int | None = None
    """The stored review shown."""
    uploads_seen: set[str] = field(default_factory=set)
    """The browser's ids of the uploads stored, so that each is written once."""
    upload_round: int = 0
    """How often the field for clips was emptied."""
    example: str | None = None
    """The shipped clip taken to be reviewed."""
    just_started: bool = False
    """Reviews were put in line by the last press of a button."""
    problems: list[str] = field(default_factory=list)
    """One sentence about each of the last uploads that was no clip."""
    second_clips: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Clip laid ready → path and name of its second camera's clip."""
    second_seen: dict[str, str] = field(default_factory=dict)
    """Clip laid ready → the upload its second camera's clip was taken from."""
    exercise_orders: dict[str, list[str]] = field(default_factory=dict)
    """Clip laid ready → the exercises as first listed: the order of an open list must not change."""
    client_wanted: str | None = None
    """The client whose page led to the form."""
    test_seen: str | None = None
    """The browser's id of the test clip stored last."""
    redraws: dict[int, str] = field(default_factory=dict)
    """Stored review → the job that draws its pictures anew."""
    not_exported: dict[int, tuple[str, ...]] = field(default_factory=dict)
    """Client → what could not be put into the export made last, one sentence each."""
    pending_message: str | None = None
    """A sentence for the next page only."""
    pending_problems: list[str] = field(default_factory=list)
    """Sentences for the next page only, about what could not be done."""
    inbox: InboxView = field(default_factory=InboxView)
    moment_asked: tuple[str, float] | None = None
    """What is wanted of the moment that the clip stood at when a button was pressed, and the moment in seconds."""
    films: dict[int, str] = field(default_factory=dict)
    """Stored review → the job that draws the skeleton into its clip."""


def page_state() -> PageState:
    """The visitor's state."""
    return cast(PageState, st.session_state.setdefault(_KEY, PageState()))


def read_number(name: str) -> int | None:
    """The number that the page's address holds under a name; None where it holds none."""
    given = st.query_params.get(name, "")
    return int(given) if re.fullmatch("[0-9]{1,15}", given) else None


def read_moment() -> float | None:
    """The moment of a clip, in seconds, that the page's address names; None where it names none."""
    given = st.query_params.get("t", "")
    return float(given) if re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,3})?", given) else None


def read_address() -> None:
    """Go where the address says: to a review, to a job, or, when it names neither, to the start."""
    state = page_state()
    state.review_id, state.job_id = read_number("review"), st.query_params.get("job")


def open_in_page(*, job_id: str | None = None, review_id: int | None = None) -> None:
    """Show a running job or a stored review from the next run on; with neither, the choice of clips."""
    state = page_state()
    state.job_id, state.review_id = job_id, review_id
    for name, value in {"job": job_id, "review": review_id}.items():
        if value is None:
            st.query_params.pop(name, None)
        else:
            st.query_params[name] = str(value)
