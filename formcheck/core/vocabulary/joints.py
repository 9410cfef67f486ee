"""The joints an exercise may load, with the words lifters use for them (common practice)."""

from collections.abc import Mapping
from typing import Literal, get_args

Joint = Literal["neck", "shoulder", "elbow", "wrist", "lower back", "hip", "knee", "ankle"]
ALL_JOINTS: frozenset[Joint] = frozenset(get_args(Joint))

JOINTS: Mapping[Joint, tuple[str, ...]] = {
    "neck": ("neck", "nape", "nacken", "trap", "trapezius"),
    "shoulder": ("shoulder", "delt", "deltoid", "rotator", "cuff", "collarbone", "clavicle", "schulter"),
    "elbow": ("elbow", "ellbogen"),
    "wrist": ("wrist", "hand", "thumb", "handgelenk"),
    "lower back": ("back", "spine", "lumbar", "rücken", "disc"),
    "hip": ("hip", "groin", "glute", "buttock", "hamstring", "hüfte", "leiste"),
    "knee": ("knee", "kneecap", "patella", "knie"),
    "ankle": ("ankle", "achilles", "heel", "foot", "feet", "calf", "knöchel"),
}
"""Joint → words that name it, in lower case and singular."""
