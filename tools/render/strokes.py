"""How a joint value runs from rest to rest: minimum jerk, made uneven as people move.

The minimum-jerk stroke is Flash and Hogan's (J Neurosci 1985, from memory). A stroke here may be faster early or late,
may nearly halt on its way, and may settle with a small swing after it has arrived (common practice: lifters do).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from body import Array

STEPS = 201
"""Points at which the time warp of a stroke is integrated."""
SETTLE_S, SETTLE_HZ = 0.13, 2.4
"""Decay time and frequency of the swing after a stroke."""


@dataclass(frozen=True)
class Manner:
    """How one stroke differs from minimum jerk; shares of the stroke's own time and size."""

    skew: float = 0.0
    """-0.6 to 0.6: positive spends more of the way early."""
    halt_at: float = 0.5
    """Where on its way the stroke slows down."""
    halt: float = 0.0
    """0 to 0.9: by how much."""
    settle: float = 0.0
    """First swing after the end, share of the stroke."""

    def progress(self, u: Array) -> Array:
        """(n,) share of the way done at shares of the time."""
        grid = np.linspace(0.0, 1.0, STEPS)
        speed = (1.0 + self.skew * (1.0 - 2.0 * grid)) * (
            1.0 - self.halt * np.exp(-0.5 * ((grid - self.halt_at) / 0.09) ** 2)
        )
        warp = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2)])
        v = np.interp(u, grid, warp / warp[-1])
        return np.asarray(v**3 * (10.0 - 15.0 * v + 6.0 * v**2))


PLAIN = Manner()


class Track:
    """One joint value over time: strokes, and rest between them."""

    def __init__(self, value: float) -> None:
        self.begin_at(value)
        self._strokes: list[tuple[float, float, float, float, Manner]] = []

    def begin_at(self, value: float) -> None:
        """Set the value before the first stroke."""
        self.start = self._last = value

    def to(self, start: float, end: float, value: float, manner: Manner = PLAIN) -> None:
        """Rest until start, then move to value by end."""
        if self._strokes:
            start = max(start, self._strokes[-1][1])
        self._strokes.append((start, max(end, start + 1e-3), self._last, value, manner))
        self._last = value

    def at(self, t: Array) -> Array:
        """(n,) values at times in seconds."""
        out = np.full(t.shape, self.start)
        for start, end, before, after, manner in self._strokes:
            moving = t >= start
            share = manner.progress(np.clip((t[moving] - start) / (end - start), 0.0, 1.0))
            out[moving] = before + (after - before) * share
            if manner.settle:
                late = np.clip(t - end, 0.0, None)
                swing = np.exp(-late / SETTLE_S) * np.sin(2 * np.pi * SETTLE_HZ * late)
                out += manner.settle * (after - before) * swing * (t > end)
        return out
