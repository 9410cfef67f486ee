"""Plain words for the second camera of a set."""

from formcheck.core.model import Review
from formcheck.core.vocabulary.numbers import round_up
from formcheck.report import wording

MARKS = "Behind a number: (1) read from the first camera, (2) from the second, (1+2) from both."


def second_lines(review: Review) -> list[str]:
    """What the second clip is, how it lies on the first one's clock, and what limits it; empty with one camera."""
    second = review.second
    if second is None:
        return []
    order = "after" if second.offset_s >= 0 else "before"
    return [
        f"Second camera: clip “{second.clip.name}”. {wording.view_detail(second.view)}",
        f"It began {abs(second.offset_s):.2f} s {order} the first "
        f"(± {round_up(second.offset_margin_s, 2):.2f} s), found by the {second.found_by}; "
        f"{_sure(second.confidence)} sure that both show the same set this way. "
        f"The reps are read from the {second.reps_from} camera.",
        *(f"Second camera: {line[:1].lower()}{line[1:]}" for line in wording.quality_lines(second.quality)),
        MARKS,
    ]


def _sure(confidence: float) -> str:
    # Never certain: the figure rests on rendered sets.
    return f"{min(confidence, 0.99):.0%}"
