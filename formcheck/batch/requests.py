"""The nouns of a batch: what is wanted of a clip, and what became of it."""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Literal

from formcheck.core.model import QualityProblem, ViewHint

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
    view: ViewHint = "auto"
    session_on: date | None = None
    set_number: int | None = None
    line: int | None = None
    """Where in the list it stands."""

    @property
    def is_remote(self) -> bool:
        """Whether the clip has to be fetched from elsewhere."""
        return "://" in self.clip

    @property
    def name(self) -> str:
        """The clip's own name."""
        return self.clip.replace("\\", "/").rstrip("/").rpartition("/")[2] or self.clip


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of an order."""

    order: ClipRequest
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


@dataclass(frozen=True, slots=True)
class Summary:
    """What became of all of them, in the order of the list."""

    outcomes: tuple[Outcome, ...]

    @property
    def counts(self) -> Counter[State]:
        """How many there are of each state."""
        return Counter(outcome.state for outcome in self.outcomes)

    @property
    def all_good(self) -> bool:
        """Whether every clip has its review."""
        return not self.counts["failed"]
