"""Whether a coach agrees with what a review says, in one word and, if wanted, why; and how often one does, by check."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from formcheck.core.errors import UsageError
from formcheck.core.model import Review
from formcheck.verdicts import judge_points

LONGEST_WHY = 300
OF_REP = "rep"
"""Stands for a check where it is a rep itself that is rated: that it is one, and whole or not."""
RatedVerdict = Literal["met", "not_met", "undecided", "whole", "partial"]
"""What was said of a check, or of a rep."""


@dataclass(frozen=True, slots=True)
class Rating:
    """One answer to one thing a review says."""

    check: str
    """Identifier of the check, or `OF_REP`."""
    verdict: RatedVerdict
    """What the review said when it was rated."""
    agrees: bool
    why: str | None = None
    rep_s: float | None = None
    """Moment of the rep it is about, seconds of the clip; None: the whole set."""

    def __post_init__(self) -> None:
        if not self.check:
            raise UsageError("Say what is rated: a check or a rep.")
        if self.verdict not in get_args(RatedVerdict):
            raise UsageError("What is rated is a verdict of a review.")
        if self.why is not None and not 0 < len(self.why) <= LONGEST_WHY:
            raise UsageError(f"The reason has between 1 and {LONGEST_WHY} characters.")
        if self.rep_s is not None and not (math.isfinite(self.rep_s) and self.rep_s >= 0):
            raise UsageError("The moment of a rep is a time of the clip, in seconds.")
        if self.check == OF_REP and self.rep_s is None:
            raise UsageError("A rated rep needs its moment.")

    @property
    def subject(self) -> tuple[str, float | None]:
        """What it is about: of one subject a review has one rating."""
        return self.check, self.rep_s


def rate_check(review: Review, check: str, *, agrees: bool, why: str | None = None) -> Rating:
    """A rating of what the review says of the set in one check (UsageError when it says nothing of it)."""
    verdicts = judge_points(review)
    if check not in verdicts:
        raise UsageError(f"This review has no check {check!r}; it has: {', '.join(verdicts) or 'none'}.")
    return Rating(check, verdicts[check], agrees, _clean(why))


def rate_rep(review: Review, number: int, *, agrees: bool, why: str | None = None) -> Rating:
    """A rating of one rep: that it is one, and whole or not (UsageError when there is none of this number)."""
    rep = next((item for item in review.reps if item.number == number), None)
    if rep is None:
        raise UsageError(f"There is no rep {number} in this review.")
    return Rating(OF_REP, "whole" if rep.complete else "partial", agrees, _clean(why), round(rep.top_s, 3))


def find_rating(
    ratings: Iterable[Rating], review: Review, *, check: str = OF_REP, rep: int | None = None
) -> Rating | None:
    """The rating of a check, or of a rep, whose reps may have been counted anew since."""
    of_it = [item for item in ratings if item.check == check]
    if check == OF_REP:
        spans = [(item.start_s, item.end_s) for item in review.reps if item.number == rep]
        of_it = [item for item in of_it if item.rep_s is not None and any(a <= item.rep_s <= b for a, b in spans)]
    return of_it[-1] if of_it else None


def _clean(why: str | None) -> str | None:
    return " ".join((why or "").split()) or None


@dataclass(frozen=True, slots=True)
class Agreement:
    """How often coaches agreed with one check of one exercise."""

    exercise_id: str
    check: str
    agree: int
    disagree: int

    @property
    def count(self) -> int:
        """All ratings."""
        return self.agree + self.disagree

    @property
    def share(self) -> float:
        """Share that agrees, 0..1."""
        return self.agree / self.count

    def compute_interval(self) -> tuple[float, float]:
        """95 % interval of the share, 0..1: Wilson 1927, J Am Stat Assoc 22:209, as SciPy computes it."""
        from scipy.stats import binomtest  # a second to load

        found = binomtest(self.agree, self.count).proportion_ci(0.95, method="wilson")
        return float(found.low), float(found.high)


def count_agreement(ratings: Iterable[tuple[str, Rating]]) -> list[Agreement]:
    """Counts by exercise and check, the most disputed first; `ratings`: exercise's id and rating."""
    counts: dict[tuple[str, str], list[int]] = {}
    for exercise_id, rating in ratings:
        counts.setdefault((exercise_id, rating.check), [0, 0])[not rating.agrees] += 1
    found = [Agreement(*key, *count) for key, count in counts.items()]
    return sorted(found, key=lambda item: (-item.disagree, item.exercise_id, item.check))


def sum_agreement(agreements: Iterable[Agreement]) -> Agreement | None:
    """All checks together; None where nothing was rated."""
    listed = list(agreements)
    if not listed:
        return None
    return Agreement("", "", sum(item.agree for item in listed), sum(item.disagree for item in listed))
