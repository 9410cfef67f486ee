"""Whether two sets were filmed and loaded alike."""

from formcheck.core.model import Review

SAME_YAW_DEG = 4.0
SAME_HEIGHT = 0.04
"""The body's height in the picture may differ by this share before the camera counts as moved."""


def camera_kept(first: Review, second: Review) -> bool:
    """Whether both clips look as if filmed by one camera that stayed where it stood."""
    a, b = first.view, second.view
    if a.name != b.name or (first.clip.width, first.clip.height) != (second.clip.width, second.clip.height):
        return False
    if a.yaw_deg is None or b.yaw_deg is None or abs((a.yaw_deg - b.yaw_deg + 180) % 360 - 180) > SAME_YAW_DEG:
        return False
    before, after = first.quality.subject_height_px, second.quality.subject_height_px
    if before is None or after is None or min(before, after) <= 0:
        return False
    return max(before, after) <= (1 + SAME_HEIGHT) * min(before, after)


def loads(first: Review, second: Review, labels: tuple[str, str]) -> tuple[str | None, bool]:
    """What there is to say about the loads, if anything, and whether a change may be put down to fatigue."""
    a, b = first.set_info.load_kg, second.set_info.load_kg
    if a is None or b is None:
        return "The load of both sets is not known, so a change is not put down to fatigue.", False
    if a != b:
        words = f"The load differs ({labels[0]}: {a:g} kg, {labels[1]}: {b:g} kg)"
        return f"{words}: a change may come from the load, so it is not put down to fatigue.", False
    return None, True
