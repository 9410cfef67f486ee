"""A rep, or the seconds about a moment, of a stored set as a short film: silent and nameless unless asked."""

from dataclasses import dataclass
from pathlib import Path

from formcheck.core.errors import UsageError
from formcheck.core.model import ProgressReport, Review
from formcheck.report import wording
from formcheck.report.overlay import FilmPart
from formcheck.services.review_outputs import ReviewOutputs

SPARE_S = 0.4
"""So much is shown before and after a rep."""
ABOUT_S = 1.5
"""So much is shown before and after a moment."""
SPEEDS = (0.25, 0.5, 1.0)


@dataclass(frozen=True, slots=True)
class ExcerptWish:
    """What is to be cut out of a set: a rep, or what is about a moment."""

    rep: int | None = None
    at_s: float | None = None
    """Seconds of the clip."""
    speed: float = 0.5
    skeleton: bool = True
    blur_faces: bool = False
    sound: bool = False
    described: bool = False
    """Whether exercise, rep and day are written into the film."""


def name_excerpt(wish: ExcerptWish) -> str:
    """What is in it, for the name of its file."""
    return f"rep-{wish.rep}" if wish.rep is not None else f"{wish.at_s:.1f}s"


def write_excerpt(
    made: ReviewOutputs, wish: ExcerptWish, out: Path, *, on_progress: ProgressReport | None = None
) -> None:
    """Write the part as an MP4 film of its own (UsageError, ClipError, OutputError)."""
    day = made.context.session_on
    part = find_part(made.analysis.review, wish, "" if day is None else f"{day}")
    made.write_film(out, skeleton=wish.skeleton, blur_faces=wish.blur_faces, part=part, on_progress=on_progress)


def find_part(review: Review, wish: ExcerptWish, day: str = "") -> FilmPart:
    """Where the part begins and ends, inside the clip (UsageError when there is no such rep or moment)."""
    if (wish.rep is None) == (wish.at_s is None):
        raise UsageError("An excerpt is of one rep or of one moment.")
    if wish.speed not in SPEEDS:
        raise UsageError(f"The speed of an excerpt is one of {', '.join(f'{speed:g}' for speed in SPEEDS)}.")
    if wish.sound and wish.speed != 1.0:
        raise UsageError("Sound goes with full speed only: choose speed 1, or no sound.")
    if wish.rep is not None:
        rep = next((item for item in review.reps if item.number == wish.rep), None)
        if rep is None:
            raise UsageError(
                f"There is no rep {wish.rep} in this set; it has {wording.count(len(review.reps), 'rep')}."
            )
        start, end, what = rep.start_s - SPARE_S, rep.end_s + SPARE_S, f"rep {rep.number}"
    else:
        assert wish.at_s is not None
        if not 0.0 <= wish.at_s <= review.clip.duration_s:
            raise UsageError(
                f"The clip lasts {wording.format_moment(review.clip.duration_s)}: the moment is not in it."
            )
        start, end, what = wish.at_s - ABOUT_S, wish.at_s + ABOUT_S, wording.format_moment(wish.at_s)
    title = ", ".join(filter(None, (review.exercise.name, what, day))) if wish.described else ""
    return FilmPart(max(start, 0.0), min(end, review.clip.duration_s), wish.speed, wish.sound, title)
