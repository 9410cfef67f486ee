"""The words for where the camera stands and what to move (codes of `formcheck.signals.placement`)."""

from dataclasses import dataclass

from formcheck.core.vocabulary.sentences import Formats, join_words, list_texts, write_points, write_sentence
from formcheck.report.words import WORDS
from formcheck.signals.placement import Hint, Standing, Topic


@dataclass(frozen=True, slots=True)
class WrittenHint:
    """Hint on one topic in words."""

    topic: Topic
    standing: Standing
    text: str


def write_hint(hint: Hint) -> WrittenHint:
    """The hint with its sentences."""
    template = WORDS["placement"][hint.message.code]
    return WrittenHint(hint.topic, hint.standing, write_sentence(template, hint.message.parameters, _FORMATS))


def _write_move(edges: object) -> str:
    names = list_texts(edges)
    if len(names) > 1:
        return "take the camera farther away until everything is inside"
    move = f"tilt the camera {_TILTS[names[0]]}" if names[0] in _TILTS else f"turn the camera to the {names[0]}"
    return f"{move} a little, or take it farther away"


_TILTS = {"top": "up", "bottom": "down"}
_PLACES = {"front": "in front of you", "left": "at your left side", "back": "behind you", "right": "at your right side"}
_FORMATS: Formats = {
    "place": lambda name: _PLACES[str(name)],
    "other": lambda side: "left" if side == "right" else "right",
    "edges": lambda edges: join_words(list_texts(edges)),
    "move": _write_move,
    "points": write_points,
}
