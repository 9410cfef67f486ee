"""A set as it is asked for (plan) and as it runs in time: minimum-jerk phases, pauses, sway and tremor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from arm import Arm
from body import Array, RestBody, joints_of
from posture import Posture, pose

BENCH_TOP = 0.45


@dataclass(frozen=True)
class RepPlan:
    """One repetition as asked for; seconds and degrees."""

    con: float = 1.1
    top: float = 0.3
    ecc: float = 1.8
    bottom: float = 0.5
    high: float | None = None
    """Arm raise at the top (bar exercise: 0 = chest, 1 = arm's length); None: the exercise's own."""
    left_lower: float = 0.0
    right_lower: float = 0.0
    torso_rise: float = 0.0
    """How far the trunk comes up with the arms."""
    swing: float = 0.0
    """Trunk first leans forwards, then backwards, by this much."""
    changes: tuple[tuple[str, Any], ...] = ()
    """For exercises of `movements`: parts of the move that are different in this rep."""
    share: float = 1.0
    """Share of the whole way out that is done (0.5 = a half rep)."""
    side: str = "both"
    """both, left or right: which arm works; the other stays where the rep begins."""
    shrug: float = 0.0
    """How far the shoulders are drawn up at the turn, degrees of the collar bones."""
    legs_first: float = 0.0
    """Share of the way back by which the knees are ahead of the trunk: hips rise before the chest."""
    drift: float = 0.0
    """How far the trunk is more upright than in the first rep, all through this one, degrees."""


@dataclass(frozen=True)
class Form:
    """How a lifter does an exercise between the faults."""

    low: float
    high: float
    elbow_low: float
    elbow_high: float
    forward: float = 10.0
    lean: float = 1.0
    knee: float = 7.0
    head: float = 0.0
    bend_down: float = 0.0
    stance: float = -0.05


FORMS = {
    "lateral-raise": Form(low=8, high=90, elbow_low=10, elbow_high=14),
    "overhead-lateral-raise": Form(low=8, high=170, elbow_low=10, elbow_high=15, forward=8),
    "bent-over-lateral-raise": Form(
        low=4, high=84, elbow_low=12, elbow_high=17, forward=8, lean=77, knee=30, head=40, bend_down=0.5
    ),
    "guided-bar-press": Form(low=0, high=1, elbow_low=100, elbow_high=17, lean=-3, head=-6, stance=0.0),
}


@dataclass(frozen=True)
class SetPlan:
    """A whole clip's movement."""

    exercise: str
    reps: tuple[RepPlan, ...]
    seed: int
    form: Form | None = None
    still: float = 1.1
    setup: str = "still"
    """still, pick_up (weights lifted off the floor first) or settle (small movements before the set)."""
    finish: str = "still"
    """still or put_down."""
    tail: float = 1.0
    variety: float = 1.0
    """How much reps differ by chance."""
    changes: tuple[tuple[str, Any], ...] = ()
    """For exercises of `movements`: parts of the move that are different in the whole set."""


@dataclass(frozen=True)
class Times:
    """When a repetition was planned to start, reach the top, leave it and end; seconds."""

    start: float
    top_start: float
    top_end: float
    end: float


class Track:
    """Values over time: minimum-jerk between key points, at rest before, between equal ones and after."""

    def __init__(self, value: float) -> None:
        self.keys: list[tuple[float, float]] = [(0.0, value)]

    def hold(self, until: float) -> None:
        """Stay where it is."""
        self.keys.append((until, self.keys[-1][1]))

    def to(self, start: float, end: float, value: float) -> None:
        """Rest until start, then move to value by end."""
        if start > self.keys[-1][0]:
            self.hold(start)
        self.keys.append((end, value))

    def at(self, t: Array) -> Array:
        """(n,) values."""
        out = np.full(t.shape, self.keys[0][1])
        for (t0, v0), (t1, v1) in zip(self.keys, self.keys[1:], strict=False):
            u = np.clip((t - t0) / max(t1 - t0, 1e-9), 0.0, 1.0)
            step = u**3 * (10.0 - 15.0 * u + 6.0 * u**2)
            out = np.where(t >= t0, v0 + (v1 - v0) * step, out)
        return np.asarray(out)


NAMES = ("left", "right", "elbow", "lean", "knee", "head", "twist", "sway")


class Course:
    """The whole movement of one set, to be asked for a posture at any time."""

    def __init__(self, plan: SetPlan, body: RestBody) -> None:
        self.plan = plan
        self.form = plan.form or FORMS[plan.exercise]
        self._rng = np.random.default_rng(plan.seed)
        self._bar: Callable[[float], float] | None = None
        if plan.exercise == "guided-bar-press":
            self._bar = self._bar_heights(body)
        form = self.form
        start = {"left": form.low, "right": form.low, "elbow": form.elbow_low, "lean": form.lean, "knee": form.knee}
        start |= {"head": form.head, "twist": 0.0, "sway": 0.0}
        self._tracks = {name: Track(start[name]) for name in NAMES}
        now = self._begin(plan.still)
        self.reps: list[Times] = []
        for number, rep in enumerate(plan.reps):
            now = self._rep(now, rep, last=number == len(plan.reps) - 1)
        self.duration = self._end(now)
        self._noise = [wander(self._rng) for _ in range(6)]

    def postures(self, t: Array) -> list[Posture]:
        """One posture for each time."""
        v = {name: track.at(t) for name, track in self._tracks.items()}
        lean, roll, sway_x, sway_y, left, right = (wave(t) for wave in self._noise)
        form, postures = self.form, []
        pressing = self._bar is not None
        for i in range(len(t)):
            arms = [
                Arm(v[side][i] + 0.25 * extra[i], form.forward, v["elbow"][i] + 0.3 * extra[i], form.bend_down)
                for side, extra in (("left", left), ("right", right))
            ]
            posture = Posture(
                lean=v["lean"][i] + 0.35 * lean[i],
                roll=0.25 * roll[i],
                twist=v["twist"][i],
                head=v["head"][i] + 0.6 * sway_y[i],
                knee=v["knee"][i],
                sway_x=v["sway"][i] + 0.004 * sway_x[i],
                sway_y=0.0 if pressing else 0.004 * sway_y[i],
                stance=form.stance,
                left=arms[0],
                right=arms[1],
            )
            if self._bar is not None:
                share = v["left"][i] + 0.002 * left[i]
                posture = replace(posture, seat=BENCH_TOP, bar_height=self._bar(share), sway_x=0.0, twist=0.0)
            postures.append(posture)
        return postures

    # ------------------------------------------------------------ parts of the clip

    def _begin(self, now: float) -> float:
        plan, form, track = self.plan, self.form, self._tracks
        if plan.exercise == "bent-over-lateral-raise":
            for name, upright in (("lean", 2.0), ("knee", 6.0), ("head", 0.0)):
                track[name].keys[0] = (0.0, upright)
                track[name].to(now, now + 1.4, getattr(form, name))
            return now + 2.1
        if plan.setup == "pick_up":
            for name, value, after in (("lean", 58.0, form.lean), ("knee", 78.0, form.knee), ("head", 30.0, form.head)):
                track[name].keys[0] = (0.0, value)
                track[name].to(now * 0.6, now * 0.6 + 1.5, after)
            return now * 0.6 + 2.3
        if plan.setup == "settle":
            track["sway"].to(0.3, 0.9, 0.035)
            track["sway"].to(0.9, 1.5, 0.0)
            track["twist"].to(0.5, 1.0, 4.0)
            track["twist"].to(1.0, 1.6, 0.0)
            for side in ("left", "right"):
                if plan.exercise != "guided-bar-press":
                    track[side].to(0.6, 1.0, form.low + 7.0)
                    track[side].to(1.05, 1.5, form.low)
            return max(now, 1.9)
        return now

    def _rep(self, start: float, rep: RepPlan, *, last: bool) -> float:
        form, track, rng, variety = self.form, self._tracks, self._rng, self.plan.variety
        con, top, ecc, bottom = (
            value * (1.0 + 0.05 * variety * float(rng.standard_normal()))
            for value in (rep.con, rep.top, rep.ecc, rep.bottom)
        )
        scale = form.high - form.low
        if self._bar is not None:
            variety *= 0.3  # the last centimetres of a press turn the elbow a lot
        high = (form.high if rep.high is None else rep.high) + 0.012 * scale * variety * float(rng.standard_normal())
        low = form.low + 0.010 * scale * variety * float(rng.standard_normal())
        times = Times(start, start + con, start + con + top, start + con + top + ecc)
        for side, lower in (("left", rep.left_lower), ("right", rep.right_lower)):
            lag = 0.02 * variety * float(rng.random())
            own = 0.006 * scale * variety * float(rng.standard_normal())
            track[side].to(start + lag, times.top_start + lag, high - lower + own)
            track[side].to(times.top_end + lag, times.end, max(low + own, 0.0))
        share = (high - form.low) / scale
        track["elbow"].to(start, times.top_start, form.elbow_low + (form.elbow_high - form.elbow_low) * share)
        track["elbow"].to(times.top_end, times.end, form.elbow_low)
        if rep.torso_rise:
            track["lean"].to(start, times.top_start, form.lean - rep.torso_rise)
            track["lean"].to(times.top_end, times.end, form.lean)
        if rep.swing:
            track["lean"].to(start - 0.25, start + 0.2 * con, form.lean + rep.swing)
            track["lean"].to(start + 0.2 * con, times.top_start, form.lean - rep.swing)
            track["lean"].to(times.top_end, times.end - 0.3, form.lean)
        self.reps.append(times)
        return times.end + (0.0 if last else bottom)

    def _end(self, now: float) -> float:
        plan, track = self.plan, self._tracks
        if plan.finish == "put_down":
            begin = now + 0.7
            goal = {"lean": 62.0, "knee": 82.0, "head": 34.0}
            for name, value in goal.items():
                track[name].to(begin, begin + 1.4, value)
            return begin + 1.4 + plan.tail
        if plan.exercise == "bent-over-lateral-raise":
            for name, value in (("lean", 2.0), ("knee", 6.0), ("head", 0.0)):
                track[name].to(now + 0.8, now + 2.1, value)
            return now + 2.1 + plan.tail
        return now + plan.tail

    def _bar_heights(self, body: RestBody) -> Callable[[float], float]:
        """Bar height for a share of the press: 0 at the top of the chest, 1 where the elbow is nearly straight."""
        base = Posture(lean=self.form.lean, seat=BENCH_TOP, bar_height=1.2, stance=self.form.stance)
        shoulder = joints_of(body, pose(body, base)[0])["left_shoulder"][2]
        low, below, above = float(shoulder) + 0.03, float(shoulder) + 0.25, float(shoulder) + 0.9
        for _ in range(18):
            middle = (below + above) / 2
            joints = joints_of(body, pose(body, replace(base, bar_height=middle))[0])
            upper, lower = joints["left_elbow"] - joints["left_shoulder"], joints["left_wrist"] - joints["left_elbow"]
            cosine = upper @ lower / np.linalg.norm(upper) / np.linalg.norm(lower)
            straight = np.degrees(np.arccos(np.clip(cosine, -1, 1))) < self.form.elbow_high + 2.0
            below, above = (below, middle) if straight else (middle, above)
        return lambda share: low + share * (below - low)


def wander(rng: np.random.Generator) -> Callable[[Array], Array]:
    """A slow sway with a little tremor on it, about 1 in size."""
    slow = rng.uniform(0.12, 0.55, 3), rng.uniform(0, 2 * np.pi, 3)
    quick = rng.uniform(5.0, 8.5, 2), rng.uniform(0, 2 * np.pi, 2)

    def wave(t: Array) -> Array:
        big = sum(np.sin(2 * np.pi * f * t + p) for f, p in zip(*slow, strict=True))
        small = sum(np.sin(2 * np.pi * f * t + p) for f, p in zip(*quick, strict=True))
        return np.asarray(0.6 * np.asarray(big) + 0.12 * np.asarray(small))

    return wave


def frame_times(duration: float, rate: float, *, phone_like: bool, seed: int) -> Array:
    """(n,) presentation times in seconds; phone-like clips have an uneven rate with single frames left out."""
    even = np.arange(0.0, duration, 1.0 / rate)
    if not phone_like:
        return even
    rng = np.random.default_rng(seed)
    uneven = even + rng.normal(0.0, 0.0025, even.shape).clip(-0.006, 0.006)
    kept = rng.random(even.shape) > 0.06
    kept[0] = True
    uneven = uneven[kept]
    return np.asarray(np.round((uneven - uneven[0]) * 90000) / 90000)


def same(count: int, rep: RepPlan, **changes: Any) -> Sequence[RepPlan]:
    """`count` equal reps."""
    return [replace(rep, **changes)] * count
