"""Requests and outcomes of a batch: how a clip is to be reviewed, whether it was, and all outcomes as JSON."""

import json
from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, get_args

from formcheck.batch.remote_files import is_url
from formcheck.core.model import QualityProblem, ViewHint
from formcheck.exercises.registry import list_general_cautions

FORMAT, VERSION = "formcheck-batch", 1
AUTO = "auto"
State = Literal["reviewed", "there", "again", "failed"]
"""Newly reviewed; in the store already; the same clip as earlier in the list; not reviewed, for the reason given."""


@dataclass(frozen=True, slots=True)
class ClipRequest:
    """One clip to be reviewed, and how."""

    clip: str
    """A path, or a URL such as ``s3://bucket/set.mp4``."""
    exercise_id: str = AUTO
    client: str | None = None
    load_kg: float | None = None
    target_reps: int | None = None
    target_each_side: bool = False
    """Whether so many are meant of the left and as many of the right; in a list ``9 each side``."""
    view: ViewHint = "auto"
    session_on: date | None = None
    set_number: int | None = None
    line: int | None = None
    """Where in the list it stands."""

    @property
    def is_remote(self) -> bool:
        """Whether the clip has to be fetched from elsewhere."""
        return is_url(self.clip)

    @property
    def name(self) -> str:
        """The clip's own name."""
        return self.clip.replace("\\", "/").rstrip("/").rpartition("/")[2] or self.clip


@dataclass(frozen=True, slots=True)
class Outcome:
    """The end of a request: a review, or why there is none."""

    request: ClipRequest
    state: State
    exercise_id: str | None = None
    """As what it was reviewed; None when that is not known."""
    review_id: int | None = None
    reps: int | None = None
    """Complete ones."""
    text: str = ""
    """What the review found, or one sentence that says why there is none."""
    problems: tuple[QualityProblem, ...] = ()
    """What makes the review impossible or incomplete, the gravest first."""
    unclear: bool = False
    """It failed only since the clip does not clearly show one exercise."""

    def to_plain(self) -> dict[str, Any]:
        """As the JSON document holds it."""
        return {
            # A file name may hold bytes that are no text.
            "clip": self.request.clip.encode("utf-8", "replace").decode("utf-8"),
            "line": self.request.line,
            "client": self.request.client,
            "state": self.state,
            "exercise": self.exercise_id,
            "review": self.review_id,
            "complete_reps": self.reps,
            "text": self.text,
            "problems": [{"code": item.code, "parameters": dict(item.parameters)} for item in self.problems],
        }


@dataclass(frozen=True, slots=True)
class Summary:
    """The outcomes of all requests, in the order of the list."""

    outcomes: tuple[Outcome, ...]

    @property
    def counts(self) -> Counter[State]:
        """How many there are of each state."""
        return Counter(outcome.state for outcome in self.outcomes)

    @property
    def all_good(self) -> bool:
        """Whether every clip has its review."""
        return not self.counts["failed"]

    def to_json(self) -> str:
        """The document: `counts` by state, the `cautions` for everyone, and `clips` in the list's order."""
        document = {
            "format": FORMAT,
            "version": VERSION,
            "counts": {state: self.counts[state] for state in get_args(State)},
            "cautions": list(list_general_cautions()),
            "clips": [outcome.to_plain() for outcome in self.outcomes],
        }
        return json.dumps(document, indent=2, ensure_ascii=False)
