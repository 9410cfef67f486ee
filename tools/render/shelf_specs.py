"""Sets of the shelf's newer exercises: clean ones and one for each fault, on random lifters in random rooms.

The kind of a fault is the id of the check that should find it.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from motion import RepPlan, SetPlan
from random_specs import _body, _look, _room
from scene import Camera
from specs import ClipSpec, Faults

Changes = dict[str, Any]
ALL, LATE = (1, 2, 3), (2, 3)
_YAWS = {"front": 0.0, "left": 90.0, "right": -90.0, "back": 180.0, "oblique": 32.0}
_DURATIONS = {"squat": (1.2, 0.3, 1.7, 0.4), "hip-hinge": (1.2, 0.3, 1.7, 0.4)}


def _set(
    seed: int,
    exercise: str,
    view: str,
    tag: str,
    faults: Faults = (),
    *,
    rep: Changes | None = None,
    late: Changes | None = None,
    plan: Changes | None = None,
    late_plan: Changes | None = None,
    width: int = 540,
    height: int = 960,
) -> ClipSpec:
    """One set of three reps: `rep` changes every rep's move, `late` that of the last two; the same for the plan."""
    rng = np.random.default_rng([77, seed])
    usual = tag in ("clean", "480p", "720p")
    con, top, ecc, bottom = _DURATIONS.get(exercise, (1.0, 0.35, 1.5, 0.4) if usual else (0.9, 0.35, 1.25, 0.3))
    if not usual and not tag.endswith("80p"):
        width, height = 360, 640  # drawn in a third of the time, and as large as the pose model looks at
    reps = []
    for number in range(1, 4):
        changes, own = dict(rep or {}), dict(plan or {})
        if number in LATE:
            changes, own = changes | (late or {}), own | (late_plan or {})
        times = {"con": con, "top": top, "ecc": ecc, "bottom": bottom} | own
        reps.append(RepPlan(**times, changes=tuple(changes.items())))
    portrait = exercise not in {"bench-lateral-raise", "bent-over-row", "hip-hinge"}
    camera = Camera(
        yaw=_YAWS[view] + float(rng.uniform(-6.0, 6.0)),
        distance=float(rng.uniform(3.2, 4.4)),
        height=float(rng.uniform(0.85, 1.35)),
        margin=float(rng.uniform(0.08, 0.2)),
        width=width if portrait else height,
        height_px=height if portrait else width,
    )
    name = f"{exercise.replace('-', '_')}_{view}_{tag}"
    body, look, room = _body(rng), _look(rng), _room(rng)
    set_plan = SetPlan(exercise, tuple(reps), seed=7000 + seed, still=0.9, tail=0.8)
    return ClipSpec(name, set_plan, body, look, camera, view, room, faults, fps=25.0 if usual else 20.0)


def _press(seed: int, exercise: str) -> list[ClipSpec]:
    return [
        _set(seed, exercise, "front", "clean"),
        _set(seed + 1, exercise, "front", "clean_2"),
        _set(seed + 2, exercise, "left", "clean"),
        _set(seed + 3, exercise, "front", "stops_short", (("to-arms-length", ALL),),
             rep={"raise_": (42.0, 118.0), "elbow": (132.0, 62.0)}),
        _set(seed + 4, exercise, "right", "leans_back", (("no-lean-back", LATE),),
             late={"lean": (-4.0, -4.0)}, late_plan={"torso_rise": 18.0}),
        _set(seed + 5, exercise, "left", "elbows_behind", (("elbows-not-behind", ALL),),
             rep={"forward": (-32.0, 5.0), "raise_": (52.0, 163.0), "elbow": (124.0, 17.0)}),
    ]  # fmt: skip


SHELF: tuple[ClipSpec, ...] = (
    *_press(100, "dumbbell-press"),
    _set(110, "dumbbell-press", "front", "stays_high", (("weights-at-shoulders", ALL),),
         rep={"raise_": (88.0, 163.0), "elbow": (90.0, 17.0)}),
    _set(111, "dumbbell-press", "front", "uneven", (("even-sides", LATE),), late_plan={"left_lower": 17.0}),
    *_press(120, "turning-palm-press"),
    _set(130, "turning-palm-press", "front", "palms_forward_throughout", (("palms-to-face", ALL),),
         rep={"palm_to": (175.0, 175.0)}),
    _set(131, "turning-palm-press", "front", "palms_to_face_throughout", (("palms-forward", ALL),),
         rep={"palm_to": (5.0, 5.0)}),
    _set(140, "machine-reverse-fly", "left", "clean"),
    _set(141, "machine-reverse-fly", "right", "clean_2"),
    _set(142, "machine-reverse-fly", "back", "clean"),
    _set(143, "machine-reverse-fly", "left", "stops_short", (("open-wide", ALL),), rep={"forward": (84.0, 36.0)}),
    _set(144, "machine-reverse-fly", "right", "rocks", (("chest-on-pad", LATE),), late_plan={"torso_rise": 17.0}),
    _set(145, "machine-reverse-fly", "back", "arms_low", (("arms-level", ALL),), rep={"raise_": (58.0, 55.0)}),
    _set(150, "bench-lateral-raise", "front", "clean"),
    _set(151, "bench-lateral-raise", "front", "clean_2"),
    _set(152, "bench-lateral-raise", "left", "clean"),
    _set(153, "bench-lateral-raise", "front", "stops_short", (("arms-high", ALL),), rep={"raise_": (4.0, 58.0)}),
    _set(154, "bench-lateral-raise", "right", "chest_lifts", (("chest-down", LATE),), late_plan={"torso_rise": 17.0}),
    _set(160, "front-raise", "left", "clean"),
    _set(161, "front-raise", "right", "clean_2"),
    _set(162, "front-raise", "front", "clean"),
    _set(163, "front-raise", "left", "stops_short", (("height", ALL),), rep={"raise_": (6.0, 62.0)}),
    _set(164, "front-raise", "right", "swings", (("no-swing", LATE),), late_plan={"swing": 20.0}),
    _set(170, "squat", "left", "clean"),
    _set(171, "squat", "right", "clean_2"),
    _set(172, "squat", "front", "clean"),
    _set(173, "squat", "left", "shallow", (("depth", ALL),), rep={"knee": (6.0, 78.0), "lean": (2.0, 28.0)}),
    _set(174, "squat", "right", "tips", (("chest-up", LATE),), late={"lean": (2.0, 66.0)}),
    _set(175, "squat", "front", "knees_in", (("knees-out", LATE),), late={"knees_out": (0.16, 0.05)}),
    _set(180, "hip-hinge", "left", "clean"),
    _set(181, "hip-hinge", "right", "clean_2"),
    _set(182, "hip-hinge", "left", "stops_short", (("far-over", ALL),), rep={"lean": (1.0, 42.0), "head": (0.0, 25.0)}),
    _set(183, "hip-hinge", "right", "squats", (("knees-soft", ALL),), rep={"knee": (8.0, 82.0)}),
    _set(184, "hip-hinge", "left", "weight_drifts", (("weight-close", ALL),), rep={"raise_": (3.0, 12.0)}),
    _set(185, "hip-hinge", "right", "looks_up", (("neck-in-line", ALL),), rep={"head": (0.0, -18.0)}),
    _set(190, "biceps-curl", "left", "clean"),
    _set(191, "biceps-curl", "right", "clean_2"),
    _set(192, "biceps-curl", "front", "clean"),
    _set(193, "biceps-curl", "left", "half", (("all-the-way-up", ALL),), rep={"elbow": (9.0, 95.0)}),
    _set(194, "biceps-curl", "right", "swings", (("no-swing", LATE),), late_plan={"swing": 20.0}),
    _set(195, "biceps-curl", "left", "elbow_drifts", (("elbow-still", ALL),), rep={"raise_": (3.0, 52.0)}),
    _set(200, "bent-over-row", "left", "clean"),
    _set(201, "bent-over-row", "right", "clean_2"),
    _set(202, "bent-over-row", "left", "stops_short", (("pulled-in", ALL),),
         rep={"raise_": (6.0, 28.0), "elbow": (8.0, 34.0)}),
    _set(203, "bent-over-row", "right", "torso_rises", (("torso-still", LATE),), late_plan={"torso_rise": 22.0}),
    _set(204, "bent-over-row", "left", "upright", (("torso-over", ALL),),
         rep={"lean": (24.0, 24.0), "raise_": (6.0, 50.0), "elbow": (8.0, 70.0), "head": (10.0, 10.0)}),
    # How far the picture's size helps the hand's landmarks, and whether drawn-together blades are seen.
    _set(135, "turning-palm-press", "front", "480p", width=480, height=854),
    _set(135, "turning-palm-press", "front", "720p", width=720, height=1280),
    _set(135, "turning-palm-press", "front", "1080p", width=1080, height=1920),
    _set(150, "bench-lateral-raise", "front", "squeezes", rep={"squeeze": (0.0, 16.0)}),
    _set(142, "machine-reverse-fly", "back", "squeezes", rep={"squeeze": (0.0, 16.0)}),
)  # fmt: skip
"""Clean sets have no fault; every other one has the fault it is named for."""
