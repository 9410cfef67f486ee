"""A set of a `Move` as it runs in time: every joint value from the rep's start to its turn and back."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from arm import Arm
from body import SIDES, Array
from motion import BENCH_TOP, RepPlan, Times, Track, wander
from movements import MOVES, Move
from posture import Posture

ARM = ("raise_", "forward", "elbow", "palm_to")
BODY = ("lean", "knee", "head", "knees_out", "side_lean", "squeeze")
PRONE_HIPS = 0.62


class ShelfCourse:
    """The whole movement of one set; `changes` of a rep replace values of the exercise's own move from there on."""

    def __init__(self, plan: Any) -> None:
        self.plan = plan
        self.move: Move = replace(MOVES[plan.exercise], **dict(plan.changes))
        self._rng = np.random.default_rng(plan.seed)
        first = self._move_of(plan.reps[0])
        self._tracks = {f"{side}_{name}": Track(getattr(first, name)[0]) for side in SIDES for name in ARM}
        self._tracks |= {name: Track(getattr(first, name)[0]) for name in BODY}
        self.reps: list[Times] = []
        now = plan.still
        for number, rep in enumerate(plan.reps):
            now = self._rep(now, rep, last=number == len(plan.reps) - 1)
        self.duration = now + plan.tail
        self._noise = [wander(self._rng) for _ in range(6)]

    def postures(self, t: Array) -> list[Posture]:
        """One posture for each time."""
        v = {name: track.at(t) for name, track in self._tracks.items()}
        lean, roll, sway_x, sway_y, left, right = (wave(t) for wave in self._noise)
        move, postures = self.move, []
        on_feet = move.base == "stand"
        for i in range(len(t)):
            arms = {
                side: Arm(
                    raise_=v[f"{side}_raise_"][i] + 0.25 * extra[i],
                    forward=v[f"{side}_forward"][i] + 0.25 * extra[i],
                    elbow=max(v[f"{side}_elbow"][i] + 0.3 * extra[i], 1.0),
                    bend=move.bend,
                    palm=move.palm,
                    palm_to=v[f"{side}_palm_to"][i],
                )
                for side, extra in (("left", left), ("right", right))
            }
            postures.append(
                Posture(
                    lean=v["lean"][i] + (0.35 if on_feet else 0.15) * lean[i],
                    roll=v["side_lean"][i] + 0.25 * roll[i],
                    head=v["head"][i] + 0.6 * sway_y[i],
                    knee=v["knee"][i],
                    knees_out=v["knees_out"][i],
                    shin=move.shin,
                    squeeze=v["squeeze"][i],
                    sway_x=0.004 * sway_x[i] if on_feet else 0.0,
                    sway_y=0.004 * sway_y[i] if on_feet else 0.0,
                    stance=move.stance,
                    seat=BENCH_TOP if move.base == "sit" else None,
                    prone=PRONE_HIPS if move.base == "prone" else None,
                    left=arms["left"],
                    right=arms["right"],
                )
            )
        return postures

    def _move_of(self, rep: RepPlan) -> Move:
        known = {field.name for field in fields(Move)}
        changes = dict(rep.changes)
        if unknown := set(changes) - known:
            raise ValueError(f"no such part of a move: {', '.join(sorted(unknown))}")
        return replace(self.move, **changes)

    def _rep(self, start: float, rep: RepPlan, *, last: bool) -> float:
        move, rng, variety = self._move_of(rep), self._rng, self.plan.variety
        durations = (rep.con, rep.top, rep.ecc, rep.bottom)
        if move.lowers_first:
            durations = (rep.ecc, rep.bottom, rep.con, rep.top)
        out, turn, back, rest = (d * (1.0 + 0.05 * variety * float(rng.standard_normal())) for d in durations)
        times = Times(start, start + out, start + out + turn, start + out + turn + back)
        # One chance share for all joints keeps the movement of a piece.
        reach = 1.0 + 0.012 * variety * float(rng.standard_normal())
        home = 0.010 * variety * float(rng.standard_normal())
        for side, lower in (("left", rep.left_lower), ("right", rep.right_lower)):
            lag = 0.02 * variety * float(rng.random())
            own = 0.006 * variety * float(rng.standard_normal())
            for name in ARM:
                low, high = getattr(move, name)
                far = low + (high - low) * (reach + own)
                near = low + (high - low) * home
                if name == "raise_":
                    far -= lower
                elif name == "elbow" and move.bend == "up":
                    far += lower  # the forearm stays upright
                span = move.turn_span if name == "palm_to" else (0.0, 1.0)
                track = self._tracks[f"{side}_{name}"]
                track.to(start + lag + span[0] * out, start + lag + span[1] * out, far)
                track.to(times.top_end + lag + (1 - span[1]) * back, times.end - span[0] * back, near)
        for name in BODY:
            low, high = getattr(move, name)
            track = self._tracks[name]
            if name == "lean" and rep.swing:
                track.to(start - 0.25, start + 0.2 * out, low + 0.4 * rep.swing)
                track.to(start + 0.2 * out, times.top_start, low - 0.6 * rep.swing)
                track.to(times.top_end, times.end - 0.3, low)
                continue
            track.to(start, times.top_start, low + (high - low) * reach - (rep.torso_rise if name == "lean" else 0.0))
            track.to(times.top_end, times.end, low + (high - low) * home)
        self.reps.append(times)
        return times.end + (0.0 if last else rest)
