"""The types of what the store returns: clients, reviews, sessions, corrections, ratings, plans, own limits."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from formcheck.coaching.comment import CoachComment
from formcheck.coaching.plan import Plan
from formcheck.coaching.rating import Rating
from formcheck.core.model import ViewName
from formcheck.core.rep_sides import format_reps_by_side
from formcheck.exercises.limits import LimitChange
from formcheck.reps.edits import Edits


@dataclass(frozen=True, slots=True)
class Client:
    """Somebody whose sets are reviewed; the id stays when the name changes."""

    id: int
    name: str
    notes: str | None
    created_at: datetime


@dataclass(frozen=True, slots=True)
class StoredReview:
    """One row of the history: what a list of reviews shows, without the measures."""

    id: int
    created_at: datetime
    """With time zone, in UTC."""
    client: str | None
    """The client's name."""
    client_id: int | None
    clip_path: str | None
    """Where the clip was when it was reviewed."""
    clip_name: str
    clip_sha256: str
    exercise_id: str
    exercise_name: str
    variation: str | None
    view: str
    load_kg: float | None
    target_reps: int | None
    complete_reps: int
    partial_reps: int
    met: int
    """Points met by the set, `not_met` by it, and `undecided`; in earlier reviews not met is what one rep did not."""
    not_met: int
    undecided: int
    session_on: date
    """The day of the session the set belongs to."""
    set_number: int
    """Place among the sets of this exercise in the session, from 1."""
    by_hand: bool
    """Corrections made by hand are in force."""
    problems: str = ""
    """Codes of what makes the review impossible or incomplete, the gravest first, joined by commas."""
    probably_met: int = 0
    """So many of `met`; `probably_not_met` of `not_met`, `too_close` of `undecided`: 0 in reviews without grades."""
    probably_not_met: int = 0
    too_close: int = 0
    left_reps: int | None = None
    """Complete reps of the left alone, `right_reps` of the right; None where both work at once or nothing tells."""
    right_reps: int | None = None
    target_each_side: bool = False
    """The target reps are meant of the left and of the right."""
    seen_at: datetime | None = None
    """When it was first opened on the page; None: new."""
    done_at: datetime | None = None
    """When it was marked as done."""
    deletion_at: datetime | None = None
    """When it was asked to be deleted (`formcheck.services.delete.delete_marked`)."""

    @property
    def reps(self) -> str:
        """The complete reps as they are written in short: ``16``, or ``9 left, 7 right``."""
        return format_reps_by_side(self.complete_reps, self.left_reps, self.right_reps)

    @property
    def problem_codes(self) -> tuple[str, ...]:
        """The codes one by one; empty for a sound set."""
        return tuple(code for code in self.problems.split(",") if code)


@dataclass(frozen=True, slots=True)
class Session:
    """The sets of one client and exercise on one day, in their order; the newest review of each set."""

    day: date
    client: str | None
    exercise_id: str
    sets: tuple[StoredReview, ...]


@dataclass(frozen=True, slots=True)
class Revision:
    """One correction of a review, in force or undone."""

    review_id: int
    number: int
    created_at: datetime
    undone_at: datetime | None
    edits: Edits


@dataclass(frozen=True, slots=True)
class StoredComment:
    """What the coach said of a set."""

    id: int
    review_id: int
    created_at: datetime
    comment: CoachComment
    has_voice: bool
    """Whether there is a voice note beside the words (`Store.voice_of`)."""


@dataclass(frozen=True, slots=True)
class StoredRating:
    """Whether the coach agreed with one thing a review said."""

    review_id: int
    exercise_id: str
    created_at: datetime
    rating: Rating


@dataclass(frozen=True, slots=True)
class StoredReferenceRep:
    """The rep that a client's others of one exercise and camera side are held against."""

    review_id: int
    client_id: int
    exercise_id: str
    view: ViewName
    session_on: date
    """The day of the session it was done in."""
    created_at: datetime
    """When it was chosen."""
    rep_s: float
    """Moment of its top, seconds of the clip."""


@dataclass(frozen=True, slots=True)
class StoredPlan:
    """A plan of one client for one exercise; `plan` is None where planning was ended."""

    id: int
    client_id: int
    exercise_id: str
    created_at: datetime
    since: date
    """The first day it holds."""
    plan: Plan | None
    remark: str | None


@dataclass(frozen=True, slots=True)
class StoredLimits:
    """Own limits for an exercise, of one client or of all (`client_id` None); no changes: the shipped ones again."""

    id: int
    exercise_id: str
    client_id: int | None
    created_at: datetime
    changes: Mapping[str, LimitChange]
