"""Names of the pose model's 33 landmarks and which of them make a limb. No arithmetic here.

Source: landmark list of the MediaPipe pose model documentation (odd = lifter's left from 11 on).
"""

from typing import Final

from formcheck.core.model import Side

NAMES: Final[tuple[str, ...]] = (
    "nose",
    "left_eye_inner",
    "left_eye",
    "left_eye_outer",
    "right_eye_inner",
    "right_eye",
    "right_eye_outer",
    "left_ear",
    "right_ear",
    "mouth_left",
    "mouth_right",
    "left_shoulder",
    "right_shoulder",
    "left_elbow",
    "right_elbow",
    "left_wrist",
    "right_wrist",
    "left_pinky",
    "right_pinky",
    "left_index",
    "right_index",
    "left_thumb",
    "right_thumb",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
    "left_heel",
    "right_heel",
    "left_foot_index",
    "right_foot_index",
)

INDEX: Final[dict[str, int]] = {name: position for position, name in enumerate(NAMES)}

BONES: Final[tuple[tuple[str, str], ...]] = (
    ("left_shoulder", "right_shoulder"),
    ("left_hip", "right_hip"),
    ("left_shoulder", "left_hip"),
    ("right_shoulder", "right_hip"),
    ("left_shoulder", "left_elbow"),
    ("left_elbow", "left_wrist"),
    ("right_shoulder", "right_elbow"),
    ("right_elbow", "right_wrist"),
    ("left_hip", "left_knee"),
    ("left_knee", "left_ankle"),
    ("right_hip", "right_knee"),
    ("right_knee", "right_ankle"),
)

TORSO: Final[tuple[str, ...]] = ("left_shoulder", "right_shoulder", "left_hip", "right_hip")

BODY: Final[tuple[str, ...]] = (
    "nose",
    *(
        f"{side}_{part}"
        for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
        for side in ("left", "right")
    ),
)
"""The landmarks the measures rest on."""

TRUNK_PER_SHOULDER_WIDTH: Final = 1.4
"""Trunk over shoulder width between landmarks, 1.35 to 1.45 on rendered bodies: the scale of a trunk seen short."""


def get_index(part: str, side: Side) -> int:
    """Index of a landmark of one side, such as ``get_index("elbow", "left")``."""
    return INDEX[f"{side}_{part}"]
