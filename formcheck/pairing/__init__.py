"""One set filmed by two cameras: their clocks laid over one another, each number from the camera that sees it best."""

from formcheck.pairing.alignment import Alignment, SpeedCurve
from formcheck.pairing.sound import loudness_course
from formcheck.pairing.together import Sounds, lay_over, review_pair

__all__ = ["Alignment", "Sounds", "SpeedCurve", "lay_over", "loudness_course", "review_pair"]
