"""The phases of a rep on the time axis, and which signals are drawn."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Literal

from formcheck.core.model import Analysis, Rep, SignalKey
from formcheck.core.vocabulary import SIGNALS

PhaseName = Literal["lift", "top", "lower", "bottom"]
FirstPhase = Literal["concentric", "eccentric"]
"""The phase that an exercise's reps begin with."""
PHASE_WORDS: dict[PhaseName, str] = {
    "lift": "lifting",
    "top": "pause at the top",
    "lower": "lowering",
    "bottom": "pause below",
}
"""The trade's concentric, pause shortened, eccentric, pause stretched, in a lifter's words."""


@dataclass(frozen=True, slots=True)
class PhaseSpan:
    """One phase of one rep, in seconds of the clip."""

    name: PhaseName
    start_s: float
    end_s: float

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.end_s - self.start_s


def list_phases(rep: Rep, first: FirstPhase = "concentric") -> tuple[PhaseSpan, ...]:
    """The phases of a rep in the order they happen; phases of no length or unknown length are left out."""
    return tuple(span for span in split_rep(rep, first) if span.seconds > 0)


def split_rep(rep: Rep, first: FirstPhase) -> list[PhaseSpan]:
    """All four phases of a rep in the order they happen; those that it does not have are of no length.

    Parameters
    ----------
    rep : its tempo may hold NaN where a phase is unknown.
    first : which phase the exercise begins with.
    """
    tempo = rep.tempo
    lift: tuple[PhaseName, float] = ("lift", tempo.concentric_s)
    top: tuple[PhaseName, float] = ("top", tempo.top_pause_s)
    lower: tuple[PhaseName, float] = ("lower", tempo.eccentric_s)
    bottom: tuple[PhaseName, float] = ("bottom", tempo.bottom_pause_s)
    spans: list[PhaseSpan] = []
    begin = rep.start_s
    for name, seconds in (lift, top, lower, bottom) if first == "concentric" else (lower, bottom, lift, top):
        end = begin + seconds if isfinite(seconds) and seconds > 0 else begin
        spans.append(PhaseSpan(name, begin, end))
        begin = end
    return spans


def choose_signals(analysis: Analysis) -> list[str]:
    """Names of the angles worth a chart: the driver first, then those a number was read from, at most three."""
    read = {measure.name for measure in analysis.review.measures if measure.value is not None}
    names = [
        name
        for name, _ in list_curve_keys(analysis)
        if name == analysis.driver_name
        or (SIGNALS[name].unit == "deg" and any(measure.startswith(name) for measure in read))
    ]
    order = sorted(dict.fromkeys(names), key=lambda name: (name != analysis.driver_name, _PREFERENCE.get(name, 9)))
    return order[:3]


def list_curve_keys(analysis: Analysis, names: Sequence[str] | None = None) -> list[SignalKey]:
    """Keys of the curves that hold at least one number."""
    keys = [key for key, values in analysis.signals.series.items() if any(map(isfinite, values.tolist()))]
    return [key for key in keys if names is None or key[0] in names]


_PREFERENCE = {"arm_elevation": 0, "arm_raise": 1, "torso_inclination": 2, "elbow_flexion": 3, "knee_flexion": 4}
