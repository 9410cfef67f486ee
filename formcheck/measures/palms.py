"""Where on its way up a hand turns its palm."""

import numpy as np

from formcheck.measures.window import Value, Window, concentric_span
from formcheck.model import Side

NOT_TURNED = "The palm did not turn over on the way up."


def palm_turn_height(window: Window, side: Side | None) -> Value | str | None:
    """Height of the hand above the shoulder at which the palm, facing the lifter before, first faces forward.

    In upper-arm lengths. Where the palm does not turn over in the lift there is no such height, and a sentence says so.
    """
    turn, height = window.curve("palm_turn", side), window.curve("hand_height", side)
    if turn is None or height is None:
        return None
    t, palm = turn
    first, last = concentric_span(window.rep)
    lifting = (t >= first - 1e-9) & (t <= last + 1e-9)
    t, palm = t[lifting], palm[lifting]
    over = np.flatnonzero((palm[:-1] > 0.0) & (palm[1:] <= 0.0))
    if not len(over):
        return NOT_TURNED
    before = int(over[0])
    share = palm[before] / (palm[before] - palm[before + 1])
    at_s = float(t[before] + share * (t[before + 1] - t[before]))
    return Value(float(np.interp(at_s, *height)), at_s)
