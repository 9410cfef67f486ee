"""A pose model that costs nothing, in a module that loads little: every clip's process loads it anew."""

from typing import Self

import numpy as np

from formcheck.core.model import PoseModelInfo
from formcheck.pose.estimator import Pose
from formcheck.video.orientation import Rgb


class Nobody:
    """Sees nobody."""

    info = PoseModelInfo("nobody", "9" * 64)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        """Nobody."""
        return None


class QuickModel:
    """Lets kills fall into everything else."""

    info = PoseModelInfo("made-up", "8" * 64)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        """Somebody in the middle, of no shape, who sways."""
        places = np.random.default_rng(1).uniform(-0.4, 0.4, (33, 3)) + 0.05 * np.sin(t_s)
        return Pose(32.0 + 60 * places[:, :2], places, np.full(33, 0.9))


class PageModel(QuickModel):
    """The same, made as the page's worker makes its model."""

    def __init__(self, _bundle: object = None) -> None:
        pass
