"""How far two trackings of one clip lie apart."""

from math import inf
from pathlib import Path

import numpy as np

from formcheck.core.model import Array, LandmarkRecording, Settings
from formcheck.pose.estimator import MediaPipeEstimator, Pose
from formcheck.sandbox.sandboxed_tracking import track_clip
from formcheck.signals.filtering import low_pass
from formcheck.signals.lengths import measure_trunk, select_both_sides
from formcheck.signals.skeleton import INDEX
from formcheck.video.orientation import Rgb
from formcheck.video.packets import plan_tracking
from formcheck.video.reader import ClipReader


class SkippingEstimator(MediaPipeEstimator):
    """The pose model, shown an empty picture in the place of the first."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        """None for the first picture."""
        return super().detect(np.zeros((64, 64, 3), np.uint8) if t_s == 0 else rgb, t_s)


def apart(one: Array, other: Array, rate: float) -> tuple[float, float, float]:
    """95th percentile of distances, raw and low-passed, in % of the torso; largest difference of a peak, degrees."""
    torso = float(np.nanmedian(measure_trunk(select_both_sides(one, "shoulder"), select_both_sides(one, "hip"))))
    smooth = [low_pass(pixels, rate, Settings().cutoff_hz) for pixels in (one, other)]
    distances = [np.linalg.norm(a - b, axis=2) for a, b in ((one, other), (smooth[0], smooth[1]))]
    raw, filtered = (100 * float(np.nanpercentile(d, 95)) / torso for d in distances)
    differences = []
    for side in ("left", "right"):
        angles = []
        for pixels in smooth:
            arm = pixels[:, INDEX[f"{side}_elbow"]] - pixels[:, INDEX[f"{side}_shoulder"]]
            angles.append(np.degrees(np.arctan2(np.abs(arm[:, 0]), arm[:, 1])))
        tops = [i for i in range(20, len(one) - 20) if angles[0][i] == angles[0][i - 20 : i + 21].max() > 45]
        differences += [abs(float(angles[0][i]) - float(angles[1][i - 10 : i + 11].max())) for i in tops]
    return raw, filtered, max(differences, default=float("nan"))


Apart = tuple[float, float, float]
"""What `apart` gives."""


def compare_trackings(clip: Path, chunked: LandmarkRecording) -> tuple[Apart, Apart]:
    """How far a clip tracked in chunks is from one uninterrupted track, and that from itself begun a picture later."""
    with ClipReader(clip) as reader:
        chunks = plan_tracking(reader).chunks
    whole, later = (track_clip(clip, model, whole_s=inf) for model in (MediaPipeEstimator, SkippingEstimator))
    from_s = chunks[1].from_s if len(chunks) > 1 else 0.0
    kept, mine = np.isin(whole.t, chunked.t) & (whole.t >= from_s), chunked.t >= from_s
    rate = whole.clip.frame_rate
    return (
        apart(whole.pixels[kept], chunked.pixels[mine], rate),
        apart(whole.pixels[kept], later.pixels[kept], rate),
    )
