"""How far two trackings of one clip lie apart."""

import numpy as np

from formcheck.capture.pose import MediaPipeEstimator
from formcheck.model import Array, Settings
from formcheck.signals.filtering import low_pass
from formcheck.signals.skeleton import INDEX


class Skipping:
    """A pose model that is not shown the first picture."""

    def __init__(self, estimator: MediaPipeEstimator):
        self._estimator = estimator
        self.info = estimator.info

    def detect(self, rgb: "np.ndarray[tuple[int, int, int], np.dtype[np.uint8]]", t_s: float) -> object:
        """None for the first picture."""
        return None if t_s == 0 else self._estimator.detect(rgb, t_s + 1)


def apart(one: Array, other: Array, rate: float) -> tuple[float, float, float]:
    """95th percentile of distances, raw and low-passed, in % of the torso; largest difference of a peak, degrees."""
    middle = {
        part: (one[:, INDEX[f"left_{part}"]] + one[:, INDEX[f"right_{part}"]]) / 2 for part in ("shoulder", "hip")
    }
    torso = float(np.nanmedian(np.linalg.norm(middle["shoulder"] - middle["hip"], axis=1)))
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
