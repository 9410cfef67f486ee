"""A clip with cuts holds several stretches of reps; only within one of them does a later rep follow an earlier one."""

from dataclasses import replace

from formcheck.core.model import ClipPart, Review


def unbroken(review: Review) -> Review:
    """The review of the longest run of reps without a cut, the earliest of several; reps keep their numbers.

    A clip without cuts is one run, and the review is handed back as it is.
    """
    if len([part for part in review.parts if part.reps]) < 2:
        return review
    part = max(review.parts, key=lambda part: len(part.reps))
    kept = set(part.reps)
    return replace(
        review,
        view=part.view,
        reps=tuple(rep for rep in review.reps if rep.number in kept),
        measures=tuple(item for item in review.measures if item.rep is None or item.rep in kept),
        parts=(part,),
    )


def part_of(review: Review, number: int) -> ClipPart | None:
    """The part a rep lies in; None in a clip without cuts, or where there is no such rep."""
    return next((part for part in review.parts if number in part.reps), None)
