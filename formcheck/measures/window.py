"""One rep's window of the curves, and where its phases lie in it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from formcheck.core.model import Array, Mask, Message, Rep, Side, Signals

MIN_SEEN_SHARE = 0.7
"""A number is given only when at least this share of the rep's samples of its curve is there."""
AROUND_TOP_S = 0.3
"""So long before and after a moment a hand's usual place is taken: a landmark that jumps is back sooner."""
NO_NEXT_REP = Message("no-next-rep")
ONE_ARM = Message("one-arm")
NO_STROKE_BEFORE = Message("no-stroke-before")
NOT_ASKED = frozenset({NO_NEXT_REP.code, ONE_ARM.code, NO_STROKE_BEFORE.code})
"""Why a rep has no number where nothing is to be asked of it."""


@dataclass(frozen=True, slots=True)
class Value:
    """A number, and the moment in the clip that shows it best."""

    value: float
    at_s: float
    readings: int = 1
    """It is a sum of so many values of one curve, each as far off as one is known to be."""


@dataclass(frozen=True, eq=False)
class Window:
    """The curves of one rep; ``driver`` is in its own unit, everything else as in `formcheck.core.vocabulary`."""

    rep: Rep
    signals: Signals
    driver: Array
    last: bool
    before: Rep | None = None
    """Of arms in turn, the stroke of the other arm that this one follows on."""
    in_turn: bool = False
    """Both arms work in the set, one after the other."""

    @property
    def inside(self) -> Mask:
        """(m,) true between the rep's start and end."""
        return self.between(self.rep.start_s, self.rep.end_s)

    def between(self, first: float, last: float) -> Mask:
        """(m,) true from ``first`` to ``last``, seconds in the clip."""
        return (self.signals.t >= first - 1e-9) & (self.signals.t <= last + 1e-9)

    def curve(self, name: str, side: Side | None) -> tuple[Array, Array] | None:
        """Times and values of a curve inside the rep, gaps left out; None when too little of it was seen."""
        inside = self.inside
        t, values = self.signals.t[inside], self.signals.get(name, side)[inside]
        seen = np.isfinite(values)
        if not len(values) or seen.mean() < MIN_SEEN_SHARE:
            return None
        return t[seen], values[seen]


Reader = Callable[[Window, Side | None], Value | Message | None]
"""Gives a rep's number; None when too little of the body was seen, or a message why else there is none."""


def read_around(curve: tuple[Array, Array], at_s: float) -> float:
    """The median around a moment, NaN where it was not seen: at one moment a landmark may be elsewhere."""
    around = np.abs(curve[0] - at_s) <= AROUND_TOP_S
    return float(np.median(curve[1][around])) if around.any() else float("nan")


def turns_at_bottom(rep: Rep) -> bool:
    """The rep starts and ends at the shortened end (it begins with the eccentric phase)."""
    return rep.top_s >= rep.end_s


def get_concentric_span(rep: Rep) -> tuple[float, float]:
    """Begin and end of the concentric phase, seconds in the clip."""
    if turns_at_bottom(rep):
        return rep.end_s - rep.tempo.concentric_s, rep.end_s
    return rep.start_s, rep.start_s + rep.tempo.concentric_s


def get_eccentric_span(rep: Rep) -> tuple[float, float]:
    """Begin and end of the eccentric phase, seconds in the clip."""
    if turns_at_bottom(rep):
        return rep.start_s, rep.start_s + rep.tempo.eccentric_s
    return rep.end_s - rep.tempo.eccentric_s, rep.end_s


def get_bottom_moment(rep: Rep) -> float:
    """A moment of the rep at the stretched end, seconds in the clip."""
    return get_concentric_span(rep)[0]
