"""How steadily a rep is done: smooth strokes, the same path each time, a pause that is held, a torso that follows."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from formcheck.core.model import SIDES, Array, Message, Rep, Side
from formcheck.measures.smoothness import compute_spectral_arc_length
from formcheck.measures.window import (
    MIN_SEEN_SHARE,
    NO_NEXT_REP,
    Reader,
    Value,
    Window,
    get_concentric_span,
    get_eccentric_span,
    turns_at_bottom,
)

SHORTEST_PAUSE_S = 0.3
"""A shorter turn at the top is no pause that could be held."""
FEWEST_TO_COMPARE = 3
"""Complete reps a set needs to have a usual path."""
SAMPLES_A_STROKE = 101
TORSO_MOVES_DEG = 7.0
"""Torso movement below this cannot be told from noise, and nothing is said of its timing; it exceeds the margin of
`torso_inclination_range` in lifts whose movement lies in the plane a side view shows."""
LARGEST_LEAD_S = 0.5
SAME_SHAPE = 0.5
"""Correlation below which the torso's movement does not belong to the lift."""
NO_PAUSE = Message("no-top-pause")
NO_BOTTOM_PAUSE = Message("no-bottom-pause")
TOO_FEW_REPS = Message("too-few-reps")
TORSO_STILL = Message("torso-still")
TORSO_APART = Message("torso-apart")


def _make_smoothness_reader(span_of: Callable[[Rep], tuple[float, float]]) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        span = span_of(window.rep)
        driver = window.driver[window.between(*span)]
        if len(driver) < 4 or not np.isfinite(driver).all():
            return None
        speed = np.abs(np.gradient(driver)) * window.signals.rate
        smoothness = compute_spectral_arc_length(speed, window.signals.rate)
        return Value(smoothness, span[0]) if np.isfinite(smoothness) else None

    return read


def _measure_drift(
    window: Window, begin: float, pause_s: float, *, at_rest: bool, no_pause: Message
) -> Value | Message | None:
    """How far the lift strays in a pause; `at_rest`: the pause between reps, which needs a rep to follow."""
    if at_rest and window.last:
        return NO_NEXT_REP
    if pause_s < SHORTEST_PAUSE_S:
        return no_pause
    chosen = window.between(begin, begin + pause_s)
    driver = window.driver[chosen]
    if len(driver) < 2 or not np.isfinite(driver).all():
        return None
    return Value(float(np.ptp(driver)), begin + pause_s)


def _read_top_drift(window: Window, side: Side | None) -> Value | Message | None:
    rep = window.rep
    begin = get_concentric_span(rep)[1]
    return _measure_drift(window, begin, rep.tempo.top_pause_s, at_rest=turns_at_bottom(rep), no_pause=NO_PAUSE)


def _read_bottom_drift(window: Window, side: Side | None) -> Value | Message | None:
    rep = window.rep
    begin = get_eccentric_span(rep)[1]
    return _measure_drift(
        window, begin, rep.tempo.bottom_pause_s, at_rest=not turns_at_bottom(rep), no_pause=NO_BOTTOM_PAUSE
    )


def _read_shoulder_share(window: Window, side: Side | None) -> Value | None:
    """Way from the one end of the lift to the farthest point, of the shoulders over that of the hands."""
    span = get_concentric_span(window.rep)
    shoulders = _measure_distance(window, "shoulders", None, span)
    hands = [distance for which in SIDES if (distance := _measure_distance(window, "hand", which, span)) is not None]
    if shoulders is None or not hands or max(hands) <= 0:
        return None
    return Value(shoulders / max(hands), span[0])


def _measure_distance(window: Window, part: str, side: Side | None, span: tuple[float, float]) -> float | None:
    """Largest distance, in the picture, from where a part is when the lift begins; torso lengths."""
    curves = [window.curve(f"{part}_{axis}", side) for axis in ("ahead", "up")]
    along = np.linspace(*span, SAMPLES_A_STROKE)
    positions = [np.interp(along, *curve) for curve in curves if curve is not None]
    return float(np.hypot(*(position - position[0] for position in positions)).max()) if len(positions) == 2 else None


def compute_path_deviations(windows: Sequence[Window]) -> list[Value | Message | None]:
    """How far each rep's course strays from the set's usual one, root mean square in the driver's unit.

    Each stroke is laid on the same 101 shares of its own duration, so that only the path counts and not the tempo;
    the usual course is the median of the complete reps. None where a rep was not seen whole; a reason where the
    set has fewer than three complete reps.
    """
    paths = [_resample_path(window) for window in windows]
    usual = [path for path, window in zip(paths, windows, strict=True) if path is not None and window.rep.complete]
    if len(usual) < FEWEST_TO_COMPARE:
        return [TOO_FEW_REPS] * len(windows)
    middle = np.median(usual, axis=0)
    return [
        None if path is None else Value(float(np.sqrt(np.mean((path - middle) ** 2))), window.rep.top_s)
        for path, window in zip(paths, windows, strict=True)
    ]


def _resample_path(window: Window) -> Array | None:
    inside = window.inside
    t, driver = window.signals.t[inside], window.driver[inside]
    seen = np.isfinite(driver)
    if not len(driver) or seen.mean() < MIN_SEEN_SHARE:
        return None
    strokes = get_concentric_span(window.rep), get_eccentric_span(window.rep)
    return np.concatenate([np.interp(np.linspace(*span, SAMPLES_A_STROKE), t[seen], driver[seen]) for span in strokes])


def _read_torso_lead(window: Window, side: Side | None) -> Value | Message | None:
    """Shift at which the speed of the torso coming up or back agrees best with the speed of the rising hands."""
    from scipy.signal import correlate

    lean = window.curve("torso_inclination", None)
    hands = [curve for which in SIDES if (curve := window.curve("hand_height", which)) is not None]
    if lean is None or not hands:
        return None
    if np.ptp(lean[1]) < TORSO_MOVES_DEG:
        return TORSO_STILL
    rate, (begin, end) = window.signals.rate, get_concentric_span(window.rep)
    shifts, steps = round(LARGEST_LEAD_S * rate), max(4, round((end - begin) * rate))
    whole = begin + np.arange(-shifts, steps + shifts + 1) / rate
    # The torso may set off before the rep does, so its curve is wanted from before the window on.
    torso = window.signals.get("torso_inclination")
    seen = np.isfinite(torso)
    coming_up = -np.gradient(np.interp(whole, window.signals.t[seen], torso[seen]))
    rising = np.gradient(np.interp(whole[shifts : shifts + steps + 1], *max(hands, key=lambda curve: len(curve[0]))))
    agreement = correlate(coming_up, rising, mode="valid")
    best = int(np.argmax(agreement))
    matched = coming_up[best : best + steps + 1]
    size = float(np.linalg.norm(matched) * np.linalg.norm(rising))
    if best in (0, 2 * shifts) or size == 0 or agreement[best] < SAME_SHAPE * size:
        return TORSO_APART
    before, here, after = agreement[best - 1 : best + 2]
    # The top of the parabola through the three best shifts, between two frames.
    between = 0.5 * (before - after) / (before - 2 * here + after)
    return Value(float((shifts - best - between) / rate), begin)


STEADINESS: Mapping[str, Reader] = {
    "concentric_smoothness": _make_smoothness_reader(get_concentric_span),
    "eccentric_smoothness": _make_smoothness_reader(get_eccentric_span),
    "top_drift": _read_top_drift,
    "bottom_drift": _read_bottom_drift,
    "shoulder_share": _read_shoulder_share,
    "torso_lead": _read_torso_lead,
}
"""How each measure of steadiness that needs one rep alone is read."""
