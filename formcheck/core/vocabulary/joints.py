"""The joints an exercise may load, with the words lifters use for them (common practice)."""

from collections.abc import Mapping
from typing import Literal, get_args

from formcheck.core.vocabulary import read_table

Joint = Literal["neck", "shoulder", "elbow", "wrist", "lower back", "hip", "knee", "ankle"]
ALL_JOINTS: frozenset[Joint] = frozenset(get_args(Joint))
_WORDS = read_table("joints")
JOINTS: Mapping[Joint, tuple[str, ...]] = {joint: tuple(_WORDS[joint]) for joint in get_args(Joint)}
"""Joint → words that name it, in lower case and singular."""
