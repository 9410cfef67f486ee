"""The set list: invented lifters, their sets, and where the camera stands."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from lifters import HEAVY_MAN, OLDER_MAN, OLDER_WOMAN, SMALL_WOMAN, STRONG_WOMAN, TALL_MAN, YOUNG_MAN
from motion import RepPlan, SetPlan
from scene import Camera, Room
from wardrobe import Look

Faults = tuple[tuple[str, tuple[int, ...]], ...]


@dataclass(frozen=True)
class ClipSpec:
    """One clip to render."""

    name: str
    plan: SetPlan
    body: dict[str, float]
    look: Look
    camera: Camera
    view: str
    room: Room = field(default_factory=Room)
    faults: Faults = ()
    fps: float = 30.0
    phone_like: bool = False


def _reps(rep: RepPlan, *highs: float | None) -> tuple[RepPlan, ...]:
    return tuple(replace(rep, high=high) for high in highs)


_PORTRAIT = Camera(width=608, height_px=1080)
_SMALL = Camera(width=540, height_px=960)
_LANDSCAPE = Camera(width=1280, height_px=720)

CLIPS: tuple[ClipSpec, ...] = (
    ClipSpec(
        name="lateral_raise_front_clean",
        plan=SetPlan("lateral-raise", _reps(RepPlan(), *[None] * 6), seed=101, setup="pick_up"),
        body=TALL_MAN,
        look=Look(
            skin=(0.36, 0.24, 0.17), hair=(0.05, 0.04, 0.04), shirt=(0.86, 0.84, 0.80), shorts=(0.16, 0.18, 0.24)
        ),
        camera=replace(_PORTRAIT, distance=3.9, height=1.2),
        view="front",
        room=Room(wall=(0.70, 0.72, 0.74), floor=(0.30, 0.30, 0.32), things=("window", "box")),
    ),
    ClipSpec(
        name="bent_over_side_torso_rises",
        plan=SetPlan(
            "bent-over-lateral-raise",
            (
                *_reps(RepPlan(con=1.2), None, None, None),
                RepPlan(con=1.2, torso_rise=12.0),
                RepPlan(con=1.2, torso_rise=19.0),
                RepPlan(con=1.2, torso_rise=25.0),
            ),
            seed=102,
        ),
        body=STRONG_WOMAN,
        look=Look(
            skin=(0.50, 0.34, 0.25),
            hair=(0.10, 0.07, 0.05),
            hair_style="bun",
            shirt=(0.70, 0.28, 0.22),
            sleeve=0.0,
            shirt_ease=0.006,
            shorts=(0.20, 0.22, 0.28),
            leg=0.93,
            shorts_ease=0.004,
            shoes=(0.25, 0.27, 0.30),
        ),
        camera=replace(_LANDSCAPE, yaw=90.0, distance=3.6, height=0.95),
        view="left",
        room=Room(wall=(0.82, 0.80, 0.75), floor=(0.42, 0.36, 0.30), things=("rack",)),
        faults=(("torso_rises", (4, 5, 6)),),
    ),
    ClipSpec(
        name="guided_press_front_clean",
        plan=SetPlan("guided-bar-press", _reps(RepPlan(con=1.4, top=0.4, ecc=2.0, bottom=0.5), *[None] * 6), seed=103),
        body=HEAVY_MAN,
        look=Look(
            skin=(0.88, 0.70, 0.60),
            hair=(0.35, 0.24, 0.15),
            shirt=(0.20, 0.38, 0.32),
            shorts=(0.45, 0.45, 0.47),
            shirt_ease=0.014,
            shoes=(0.15, 0.15, 0.17),
        ),
        camera=replace(_PORTRAIT, distance=3.6, height=1.15, margin=0.3),
        view="front",
        room=Room(wall=(0.62, 0.65, 0.66), floor=(0.26, 0.26, 0.27), depth=2.4, things=("mirror", "mat")),
    ),
    ClipSpec(
        name="lateral_raise_front_range_lost",
        plan=SetPlan(
            "lateral-raise",
            _reps(RepPlan(con=1.0, ecc=1.5, bottom=0.4), 91, 90, 91, 86, 80, 73, 67, 39),
            seed=104,
            setup="settle",
            finish="put_down",
        ),
        body=SMALL_WOMAN,
        look=Look(
            skin=(0.80, 0.62, 0.48),
            hair=(0.06, 0.05, 0.05),
            hair_style="long",
            shirt=(0.30, 0.55, 0.62),
            sleeve=0.0,
            shirt_ease=0.006,
            shorts=(0.13, 0.13, 0.15),
            leg=0.93,
            shorts_ease=0.004,
            shoes=(0.80, 0.50, 0.45),
        ),
        camera=replace(_PORTRAIT, yaw=-5.0, distance=3.3, height=1.0),
        view="front",
        room=Room(wall=(0.84, 0.80, 0.74), floor=(0.52, 0.40, 0.29), turn=6.0, things=("plant", "mat"), plate=0.042),
        faults=(("range_lost", (5, 6, 7, 8)), ("partial", (8,))),
        phone_like=True,
    ),
    ClipSpec(
        name="lateral_raise_side_swing",
        plan=SetPlan(
            "lateral-raise",
            (
                *_reps(RepPlan(con=1.0, ecc=1.4, bottom=0.6), None, None),
                *_reps(RepPlan(con=0.9, ecc=1.3, bottom=0.6, swing=11.0), 92, 91),
                *_reps(RepPlan(con=0.9, ecc=1.3, bottom=0.6, swing=14.0), 90, 88),
            ),
            seed=105,
        ),
        body=YOUNG_MAN,
        look=Look(
            skin=(0.72, 0.54, 0.41),
            hair=(0.10, 0.08, 0.07),
            shirt=(0.55, 0.56, 0.58),
            sleeve=0.0,
            shirt_ease=0.008,
            shorts=(0.30, 0.34, 0.42),
            shoes=(0.75, 0.20, 0.18),
        ),
        camera=replace(_LANDSCAPE, yaw=-90.0, distance=3.4, height=1.1),
        view="right",
        room=Room(wall=(0.56, 0.58, 0.60), floor=(0.24, 0.24, 0.25), turn=-4.0, things=("box", "rack")),
        faults=(("swing", (3, 4, 5, 6)),),
        fps=25.0,
    ),
    ClipSpec(
        name="lateral_raise_front_one_side_lower",
        plan=SetPlan(
            "lateral-raise",
            tuple(RepPlan(con=0.9, ecc=1.3, bottom=0.4, right_lower=lower) for lower in (12.0, 12.0, 13.0, 14.0, 15.0)),
            seed=106,
        ),
        body=OLDER_WOMAN,
        look=Look(
            skin=(0.90, 0.74, 0.66),
            hair=(0.62, 0.60, 0.58),
            hair_style="short",
            shirt=(0.48, 0.30, 0.45),
            sleeve=0.6,
            shirt_ease=0.012,
            shorts=(0.20, 0.20, 0.23),
            leg=0.80,
            shorts_ease=0.008,
            shoes=(0.55, 0.56, 0.60),
        ),
        camera=replace(_SMALL, yaw=3.0, distance=3.8, height=1.3),
        view="front",
        room=Room(
            wall=(0.66, 0.74, 0.70), floor=(0.46, 0.43, 0.40), turn=-3.0, things=("window", "plant"), plate=0.038
        ),
        faults=(("one_side_lower", (1, 2, 3, 4, 5)),),
        fps=60.0,
    ),
    ClipSpec(
        name="lateral_raise_oblique_clean",
        plan=SetPlan(
            "lateral-raise", _reps(RepPlan(con=1.1, ecc=1.6, bottom=0.4), *[None] * 5), seed=107, setup="settle"
        ),
        body=OLDER_MAN,
        look=Look(
            skin=(0.84, 0.66, 0.54),
            hair=(0.45, 0.44, 0.43),
            shirt=(0.75, 0.62, 0.28),
            shorts=(0.28, 0.30, 0.26),
            leg=0.42,
        ),
        camera=replace(_LANDSCAPE, yaw=28.0, distance=4.2, height=1.4),
        view="oblique",
        room=Room(wall=(0.78, 0.78, 0.80), floor=(0.33, 0.35, 0.38), things=("rack", "box", "window")),
        fps=25.0,
    ),
    ClipSpec(
        name="overhead_raise_front_clean",
        plan=SetPlan(
            "overhead-lateral-raise", _reps(RepPlan(con=1.6, top=0.25, ecc=2.0, bottom=0.4), *[None] * 5), seed=108
        ),
        body=STRONG_WOMAN,
        look=Look(
            skin=(0.55, 0.38, 0.28),
            hair=(0.08, 0.06, 0.05),
            hair_style="bun",
            shirt=(0.18, 0.20, 0.24),
            sleeve=0.0,
            shirt_ease=0.005,
            shorts=(0.42, 0.20, 0.24),
            leg=0.60,
            shorts_ease=0.004,
            shoes=(0.88, 0.88, 0.86),
        ),
        camera=replace(_SMALL, yaw=-2.0, distance=4.4, height=1.0),
        view="front",
        room=Room(wall=(0.80, 0.76, 0.78), floor=(0.40, 0.40, 0.42), depth=1.6, things=("mirror",)),
    ),
    ClipSpec(
        name="overhead_raise_front_stops_at_shoulder",
        plan=SetPlan(
            "overhead-lateral-raise",
            _reps(RepPlan(con=1.3, top=0.25, ecc=1.7, bottom=0.4), 171, 170, 168, 167, 122, 94, 92),
            seed=109,
            finish="put_down",
        ),
        body=HEAVY_MAN | {"stature": 1.81, "age": 0.6, "weight": 0.72},
        look=Look(
            skin=(0.70, 0.50, 0.38),
            hair=(0.12, 0.08, 0.06),
            shirt=(0.76, 0.40, 0.20),
            shirt_ease=0.013,
            shorts=(0.14, 0.20, 0.32),
            leg=0.42,
            shoes=(0.20, 0.20, 0.22),
        ),
        camera=replace(_PORTRAIT, yaw=6.0, distance=4.6, height=1.25),
        view="front",
        room=Room(wall=(0.60, 0.66, 0.72), floor=(0.35, 0.30, 0.27), things=("box",)),
        faults=(("stops_at_shoulder_height", (6, 7)), ("range_lost", (5, 6, 7)), ("partial", (6, 7))),
    ),
    ClipSpec(
        name="bent_over_front_clean",
        plan=SetPlan("bent-over-lateral-raise", _reps(RepPlan(con=1.1, ecc=1.6, bottom=0.5), *[None] * 5), seed=110),
        body=YOUNG_MAN | {"african": 0.0, "asian": 0.0, "caucasian": 1.0, "muscle": 0.65, "stature": 1.79},
        look=Look(
            skin=(0.92, 0.75, 0.65),
            hair=(0.55, 0.38, 0.20),
            shirt=(0.22, 0.24, 0.28),
            shorts=(0.55, 0.16, 0.16),
            leg=0.34,
        ),
        camera=replace(_PORTRAIT, yaw=-3.0, distance=3.4, height=0.85),
        view="front",
        room=Room(wall=(0.72, 0.70, 0.66), floor=(0.30, 0.32, 0.34), turn=5.0, things=("rack", "mat")),
    ),
    ClipSpec(
        name="guided_press_front_rushed_lowering",
        plan=SetPlan(
            "guided-bar-press",
            (
                *_reps(RepPlan(con=1.2, top=0.35, ecc=1.8, bottom=0.4), None, None, None),
                *(RepPlan(con=1.2, top=0.35, ecc=ecc, bottom=0.45) for ecc in (0.65, 0.6, 0.55, 0.6)),
            ),
            seed=111,
        ),
        body=SMALL_WOMAN | {"asian": 0.2, "caucasian": 0.8, "stature": 1.64, "weight": 0.52},
        look=Look(
            skin=(0.86, 0.68, 0.57),
            hair=(0.42, 0.24, 0.12),
            hair_style="bun",
            shirt=(0.62, 0.66, 0.72),
            sleeve=0.35,
            shorts=(0.18, 0.20, 0.26),
            leg=0.85,
            shorts_ease=0.005,
            shoes=(0.30, 0.55, 0.50),
        ),
        camera=replace(_SMALL, yaw=4.0, distance=3.0, height=1.25, margin=0.3),
        view="front",
        room=Room(wall=(0.74, 0.68, 0.62), floor=(0.28, 0.27, 0.29), depth=1.8, turn=-3.0, things=("box",)),
        faults=(("rushed_lowering", (4, 5, 6, 7)),),
    ),
)
