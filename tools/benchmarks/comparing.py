"""Where the camera of a rendered set stands."""

BANDS = ("front 0-10", "front 10-30", "front 30-45", "side", "behind")
"""Where the camera stands: degrees around the lifter from straight in front, at the side, or behind."""


def band_of(yaw: float) -> str:
    """The band of `BANDS` a camera's angle around the lifter belongs to."""
    off = abs((yaw + 180.0) % 360.0 - 180.0)
    limits = ((10.0, BANDS[0]), (30.0, BANDS[1]), (60.0, BANDS[2]), (120.0, BANDS[3]))
    return next((name for limit, name in limits if off <= limit), BANDS[4])
