"""A set of any exercise as it runs in time: what every joint does from the first picture to the last.

The moves are data (`movements.MOVES`); a rep may differ from its exercise's move (`RepPlan`). Strokes are uneven as
people's are (`strokes`), reps differ by chance, and the body sways.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from arm import Arm
from body import SIDES, Array, RestBody, joints_of
from motion import BENCH_TOP, RepPlan, SetPlan, Times, wander
from movements import MOVES, Move
from posture import Posture, pose
from strokes import Manner, Track

ARM = ("raise_", "forward", "elbow", "palm_to")
BODY = ("lean", "knee", "head", "knees_out", "side_lean", "squeeze")
PRONE_HIPS = 0.62
"""Height of the hips on the inclined bench for a body of 1.75 m, metres."""
SIDE_VALUE = {"biceps-curl": "elbow", "machine-reverse-fly": "forward"}
"""Which arm value falls short on the side that stays behind; elsewhere how far the arm is raised."""
UPRIGHT = {"lean": 2.0, "knee": 6.0, "head": 0.0}


@dataclass(frozen=True)
class DoneRep:
    """One rep as it was planned to run: times in seconds, share of the whole way out, which arm works."""

    times: Times
    share: float
    side: str


class SetMovement:
    """The whole movement of one set, to be asked for postures at any times."""

    def __init__(self, plan: SetPlan, body: RestBody) -> None:
        self.plan = plan
        self.move: Move = replace(MOVES[plan.exercise], **dict(plan.changes))
        self._rng = np.random.default_rng(plan.seed)
        self._heights = _BarHeights(body, self.move) if self.move.held == "bar" else None
        first = self._move_of(plan.reps[0]) if plan.reps else self.move
        self._tracks = {f"{side}_{name}": Track(getattr(first, name)[0]) for side in SIDES for name in ARM}
        self._tracks |= {name: Track(getattr(first, name)[0]) for name in BODY}
        self._tracks |= {"twist": Track(0.0), "sway": Track(0.0), "shrug": Track(0.0), "tilt": Track(0.0)}
        self._tracks["bar"] = Track(0.0)
        self.reps: list[DoneRep] = []
        now = self._begin(plan.still)
        for number, rep in enumerate(plan.reps):
            now = self._rep(now, rep, last=number == len(plan.reps) - 1)
        self.duration = self._end(now)
        self._noise = [wander(self._rng) for _ in range(6)]

    def postures(self, t: Array) -> list[Posture]:
        """One posture for each time in seconds."""
        v = {name: track.at(t) for name, track in self._tracks.items()}
        lean, roll, sway_x, sway_y, left, right = (wave(t) for wave in self._noise)
        move, on_feet = self.move, self.move.base == "stand"
        loose = 1.0 if on_feet else 0.4
        postures = []
        for i in range(len(t)):
            arms = {
                side: Arm(
                    raise_=v[f"{side}_raise_"][i] + 0.25 * shake[i],
                    forward=v[f"{side}_forward"][i] + 0.25 * shake[i],
                    elbow=max(v[f"{side}_elbow"][i] + 0.3 * shake[i], 0.5),
                    bend_down=move.bend_down,
                    bend=move.bend,
                    palm=move.palm,
                    palm_to=v[f"{side}_palm_to"][i],
                )
                for side, shake in (("left", left), ("right", right))
            }
            postures.append(
                Posture(
                    lean=v["lean"][i] + 0.35 * loose * lean[i],
                    roll=v["side_lean"][i] + 0.25 * roll[i],
                    twist=v["twist"][i],
                    head=v["head"][i] + 0.6 * sway_y[i],
                    knee=v["knee"][i],
                    knees_out=v["knees_out"][i],
                    shin=move.shin,
                    squeeze=v["squeeze"][i],
                    shrug=v["shrug"][i],
                    sway_x=v["sway"][i] + 0.004 * loose * sway_x[i],
                    sway_y=0.004 * loose * sway_y[i],
                    stance=move.stance,
                    seat=BENCH_TOP if move.base == "sit" else None,
                    prone=PRONE_HIPS if move.base == "prone" else None,
                    left=arms["left"],
                    right=arms["right"],
                    bar_height=None if self._heights is None else self._heights.at(v["bar"][i] + 0.002 * left[i]),
                    bar_tilt=v["tilt"][i],
                    bar_forward=move.bar_forward,
                    grip_out=move.grip_out,
                )
            )
        return postures

    # ------------------------------------------------------------ parts of the clip

    def _begin(self, now: float) -> float:
        track, move = self._tracks, self.move
        if move.bends_over:
            for name, value in UPRIGHT.items():
                track[name].begin_at(value)
                track[name].to(now, now + 1.3, getattr(move, name)[0])
            return now + 1.9
        if self.plan.setup == "settle" and move.base == "stand":
            track["sway"].to(0.3, 0.9, 0.03)
            track["sway"].to(0.9, 1.5, 0.0)
            track["twist"].to(0.5, 1.0, 4.0)
            track["twist"].to(1.0, 1.6, 0.0)
            return max(now, 1.9)
        return now

    def _end(self, now: float) -> float:
        if self.move.bends_over:
            for name, value in UPRIGHT.items():
                self._tracks[name].to(now + 0.6, now + 1.8, value)
            return now + 1.9 + self.plan.tail
        return now + self.plan.tail

    def _move_of(self, rep: RepPlan) -> Move:
        known = {field.name for field in fields(Move)}
        changes = dict(rep.changes)
        if unknown := set(changes) - known:
            raise ValueError(f"no such part of a move: {', '.join(sorted(unknown))}")
        return replace(self.move, **changes)

    def _manner(self) -> Manner:
        """How this stroke is done: mostly a little uneven, one in six nearly halts."""
        rng, variety = self._rng, self.plan.variety
        halt = float(rng.uniform(0.4, 0.85)) if rng.random() < 0.16 * variety else 0.0
        return Manner(
            skew=float(np.clip(0.22 * variety * rng.standard_normal(), -0.6, 0.6)),
            halt_at=float(rng.uniform(0.35, 0.75)),
            halt=halt,
            settle=float(rng.uniform(0.0, 0.018)) * variety,
        )

    def _rep(self, start: float, rep: RepPlan, *, last: bool) -> float:
        move, rng, variety, track = self._move_of(rep), self._rng, self.plan.variety, self._tracks
        durations = (rep.con, rep.top, rep.ecc, rep.bottom)
        if move.lowers_first:
            durations = (rep.ecc, rep.bottom, rep.con, rep.top)
        out, turn, back, rest = (d * (1.0 + 0.05 * variety * float(rng.standard_normal())) for d in durations)
        times = Times(start, start + out, start + out + turn, start + out + turn + back)
        # One chance share for all joints keeps the movement of a piece; near arm's length a little is a lot of elbow.
        chance = 0.012 * (0.25 if self._heights else 1.0) * variety * float(rng.standard_normal())
        reach = rep.share * (1.0 + chance)
        home = 0.010 * variety * float(rng.standard_normal())
        going, coming = self._manner(), self._manner()
        lower = {"left": rep.left_lower, "right": rep.right_lower}
        for side in SIDES:
            lag = 0.02 * variety * float(rng.random())
            own = 0.006 * variety * float(rng.standard_normal())
            if rep.side not in ("both", side):
                continue
            for name in ARM:
                low, high = getattr(move, name)
                far, near = low + (high - low) * (reach + own), low + (high - low) * home
                if name == SIDE_VALUE.get(self.plan.exercise, "raise_"):
                    far -= lower[side] * float(np.sign(high - low))
                elif name == "elbow" and move.bend == "up":
                    far += lower[side]  # the forearm stays upright
                span = move.turn_span if name == "palm_to" else (0.0, 1.0)
                one = track[f"{side}_{name}"]
                one.to(start + lag + span[0] * out, start + lag + span[1] * out, far, going)
                one.to(times.top_end + lag + (1 - span[1]) * back, times.end - span[0] * back, near, coming)
        if self._heights is not None:
            track["bar"].to(start, times.top_start, self._heights.share_of(move.elbow[1]) * reach, going)
            track["bar"].to(times.top_end, times.end, max(home, self._heights.lowest(move)), coming)
            track["tilt"].to(start, times.top_start, lower["left"] - lower["right"], going)
            track["tilt"].to(times.top_end, times.end, 0.0, coming)
        if rep.shrug:
            track["shrug"].to(start, times.top_start, rep.shrug, going)
            track["shrug"].to(times.top_end, times.end, 0.35 * rep.shrug, coming)
        for name in BODY:
            low, high = getattr(move, name)
            one = track[name]
            if name == "lean" and rep.swing:
                one.to(start - 0.25, start + 0.2 * out, low - rep.drift + 0.4 * rep.swing)
                one.to(start + 0.2 * out, times.top_start, low - rep.drift - 0.6 * rep.swing)
                one.to(times.top_end, times.end - 0.3, low - rep.drift)
                continue
            up = (rep.torso_rise + rep.drift, rep.drift) if name == "lean" else (0.0, 0.0)
            late = rep.legs_first * back if name == "lean" else 0.0
            early = rep.legs_first * back if name == "knee" else 0.0
            one.to(start, times.top_start, low + (high - low) * reach - up[0], going)
            one.to(times.top_end + late, times.end - early, low + (high - low) * home - up[1], coming)
        self.reps.append(DoneRep(times, rep.share, rep.side))
        return times.end + (0.0 if last else rest)


class _BarHeights:
    """Bar heights of a guided press: share 0 at the top of the chest, 1 where the elbow has its clean end angle."""

    def __init__(self, body: RestBody, move: Move) -> None:
        self._body, self._move = body, move
        shoulder = joints_of(body, pose(body, self._posture(1.2))[0])["left_shoulder"][2]
        self._low = float(shoulder) + 0.03
        self._high = self._height_of(move.elbow[1])

    def at(self, share: float) -> float:
        """Height in metres."""
        return self._low + share * (self._high - self._low)

    def share_of(self, elbow: float) -> float:
        """The share at which the elbow is bent by so many degrees."""
        return (self._height_of(elbow) - self._low) / (self._high - self._low)

    def lowest(self, move: Move) -> float:
        """The share where a rep begins: more than 0 where the bar is not brought down to the chest."""
        clean = MOVES["guided-bar-press"].elbow[0]
        return 0.0 if move.elbow[0] >= clean else (clean - move.elbow[0]) / clean

    def _posture(self, height: float) -> Posture:
        move = self._move
        return Posture(
            lean=move.lean[0],
            seat=BENCH_TOP,
            bar_height=height,
            stance=move.stance,
            bar_forward=move.bar_forward,
            grip_out=move.grip_out,
        )

    def _height_of(self, elbow: float) -> float:
        below, above = self._low + 0.1, self._low + 0.95
        for _ in range(18):
            middle = (below + above) / 2
            joints: dict[str, Any] = joints_of(self._body, pose(self._body, self._posture(middle))[0])
            upper, lower = joints["left_elbow"] - joints["left_shoulder"], joints["left_wrist"] - joints["left_elbow"]
            below, above = (below, middle) if angle(upper, lower) < elbow + 2.0 else (middle, above)
        return below


def angle(first: Array, second: Array) -> float:
    """Angle between two vectors, degrees."""
    cosine = float(first @ second) / float(np.linalg.norm(first) * np.linalg.norm(second))
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
