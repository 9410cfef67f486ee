"""The smallest change that is more than error of measurement.

The margin of a measure holds two parts. One stays the same for the same body before the same camera (where the
landmarks sit under the skin, how far the camera stands off) and cancels between reps of a set. The other differs from
rep to rep and does not. `repeatability.toml` holds the share of the second one.
"""

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from statistics import NormalDist

from formcheck.signals.camera import Plane

Z95 = NormalDist().inv_cdf(0.975)


@cache
def _read_table() -> Mapping[str, Mapping[str, float]]:
    return tomllib.loads((Path(__file__).parent / "repeatability.toml").read_text(encoding="utf-8"))


def compute_detectable_change(sem: float, confidence: float = 0.95) -> float:
    """Smallest difference of two values that is not just measuring error: z·√2·SEM, z = 1.96 for 95 %.

    sem : standard error of measurement, in the measure's unit. Source: Weir 2005, J Strength Cond Res 19:231
    (from memory).
    """
    return NormalDist().inv_cdf((1 + confidence) / 2) * math.sqrt(2) * sem


def get_random_share(measure: str, plane: Plane) -> float:
    """Share of a measure's margin that differs from rep to rep, 0..1.

    A plane not tabled takes the measure's largest share, a measure not tabled the largest of all.
    """
    rows = _read_table()
    row = rows.get(measure) or {str(number): max(one.values()) for number, one in enumerate(rows.values())}
    return row.get(plane, max(row.values()))


def get_least_random_share(measure: str, plane: Plane) -> float:
    """The share of `get_random_share`, where it is not tabled the smallest that may be: of the measure, else of all.

    Where errors that are shared make repetitions count less, that is the cautious choice.
    """
    rows = _read_table()
    row = rows.get(measure) or {str(number): min(one.values()) for number, one in enumerate(rows.values())}
    return row.get(plane, min(row.values()))


def compute_rep_error(measure: str, plane: Plane, margin: float) -> float:
    """Standard deviation of what measuring adds to one rep and not to the next, in the measure's unit."""
    return get_random_share(measure, plane) * margin / Z95


def compute_mean_error(scatter: float, margin: float, reps: int, *, same_camera: bool) -> float:
    """Standard error of measurement of a mean over reps that is to be held against another mean.

    scatter : of one rep, as `compute_rep_error` gives it. With the same camera and body the part common to all reps is
    in both means and does not count.
    """
    common = 0.0 if same_camera else math.sqrt(max((margin / Z95) ** 2 - scatter**2, 0.0))
    return math.hypot(scatter / math.sqrt(reps), common)
