"""Two films in step: one clock on which both show the same phase of their matched reps at the same time.

Each phase lasts on that clock as long as the slower of the two takes, so no film is ever hastened; the quicker one is
slowed, or stands still where its rep has no such phase. What lies between matched reps is left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from formcheck.core.model import Rep
from formcheck.report.phases import PHASE_WORDS, FirstPhase, PhaseSpan, split_rep

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Step:
    """A phase of two matched reps."""

    reps: tuple[int, int]
    words: str
    """The phase's name for readers."""
    at_s: float
    """When it begins on the common clock."""
    spans: tuple[Span, Span]
    """Of each clip the seconds from which to which it lasts; of no length where the rep has no such phase."""

    @property
    def seconds(self) -> float:
        """How long it lasts on the common clock."""
        return max(end - start for start, end in self.spans)


def match_reps(before: Sequence[Rep], after: Sequence[Rep]) -> list[tuple[Rep, Rep]]:
    """The reps of the same number that are whole in both sets; the first few in turn where no number is in both."""
    whole = [{rep.number: rep for rep in reps if rep.complete} for reps in (before, after)]
    shared = sorted(whole[0].keys() & whole[1].keys())
    if shared:
        return [(whole[0][number], whole[1][number]) for number in shared]
    return list(zip(before, after, strict=False))


def put_in_step(pairs: Sequence[tuple[Rep, Rep]], first: FirstPhase) -> tuple[Step, ...]:
    """The steps of matched reps, one after the other on the common clock that begins at 0.

    Parameters
    ----------
    first : the phase the exercise begins with.
    """
    steps: list[Step] = []
    now = 0.0
    for one, other in pairs:
        whole = _are_phases_known(one) and _are_phases_known(other)
        spans = [split_rep(rep, first) if whole else _halve_rep(rep, first) for rep in (one, other)]
        for mine, theirs in zip(*spans, strict=True):
            ends = ((mine.start_s, mine.end_s), (theirs.start_s, theirs.end_s))
            step = Step((one.number, other.number), PHASE_WORDS[mine.name], now, ends)
            if step.seconds > 0:
                steps.append(step)
                now += step.seconds
    return tuple(steps)


def find_common_time(steps: Sequence[Step], which: int, rep: int, clip_s: float) -> float:
    """When on the common clock a clip (0 or 1) stands at a moment of one of its reps; 0 where the rep is not shown."""
    for step in steps:
        start, end = step.spans[which]
        if step.reps[which] == rep and start <= clip_s <= end and end > start:
            return step.at_s + step.seconds * (clip_s - start) / (end - start)
    return next((step.at_s for step in steps if step.reps[which] == rep), 0.0)


def _are_phases_known(rep: Rep) -> bool:
    return isfinite(rep.tempo.concentric_s) and isfinite(rep.tempo.eccentric_s)


def _halve_rep(rep: Rep, first: FirstPhase) -> list[PhaseSpan]:
    """Up to the moment at the top and down from it, where more is not known of a rep; the other way round likewise.

    Of a rep that begins with the lowering the whole is one step: where it turns is not known.
    """
    if first == "eccentric":
        return [PhaseSpan("lower", rep.start_s, rep.end_s)]
    return [PhaseSpan("lift", rep.start_s, rep.top_s), PhaseSpan("lower", rep.top_s, rep.end_s)]
