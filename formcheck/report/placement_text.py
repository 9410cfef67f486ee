"""The words for where a phone stands and what to move (codes of `formcheck.signals.placement`)."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from formcheck.core.model import MessageValue
from formcheck.signals.placement import Hint, Standing, Topic

Parameters = Mapping[str, MessageValue]


@dataclass(frozen=True, slots=True)
class WrittenHint:
    """Hint on one topic in words."""

    topic: Topic
    standing: Standing
    text: str


def write_hint(advice: Hint) -> WrittenHint:
    """The advice with its sentences."""
    words = _WORDS[advice.message.code]
    text = words if isinstance(words, str) else words(advice.message.parameters)
    return WrittenHint(advice.topic, advice.standing, text)


_PLACES = {"front": "in front of you", "left": "at your left side", "back": "behind you", "right": "at your right side"}
_TURNS = {
    "top": "tilt the phone up",
    "bottom": "tilt the phone down",
    "left": "turn the phone to the left",
    "right": "turn the phone to the right",
}


def _place(given: Parameters) -> str:
    return _PLACES[str(given["place"])]


def _off(given: Parameters) -> str:
    return f"{given['degrees']}° ± {given['margin']}°"


def _turn(given: Parameters) -> str:
    other = "left" if given["way"] == "right" else "right"
    return (
        f"carry the phone about {given['degrees']}° around you to your {given['way']}, "
        f"or turn yourself as far to your {other}"
    )


def _lost(given: Parameters) -> str:
    return (
        f"You were found in only {given['percent']}% of the pictures: clear what stands between you and "
        "the phone, keep others out of the picture, and add light."
    )


def _beside_place(given: Parameters) -> str:
    return (
        f"The phone stands {_off(given)} beside the place wanted ({_place(given)}): usable, but the numbers are "
        f"less sure. Better: {_turn(given)}."
    )


def _fills(given: Parameters) -> str:
    return f"You fill {given['percent']}% of the picture"


def _leaves_picture(given: Parameters) -> str:
    edges = _texts(given, "edges")
    where = " and ".join(edges) if len(edges) < 3 else ", ".join(edges[:-1]) + " and " + edges[-1]
    move = "take the phone farther away until everything is inside"
    if len(edges) == 1:
        move = f"{_TURNS[edges[0]]} a little, or take it farther away"
    return f"Part of you leaves the picture at the {where}: {move}."


def _joints_hidden(given: Parameters) -> str:
    points = ", ".join(" ".join(name.split("_")) for name in _texts(given, "points"))
    return (
        f"Often hidden: {points}. Clear machine, rack or bench out of the line of sight and wear clothes that follow "
        "the body."
    )


def _texts(given: Parameters, name: str) -> list[str]:
    value = given[name]
    return [str(item) for item in value] if isinstance(value, tuple) else [str(value)]


_WORDS: Mapping[str, str | Callable[[Parameters], str]] = {
    "nobody-found": (
        "Nobody was found in most of the clip: stand where you lift, the whole body in the picture, in good light, "
        "and film again."
    ),
    "lifter-found": lambda given: f"You were found in {given['percent']}% of the pictures.",
    "lifter-lost": _lost,
    "direction-not-known": "From where the phone sees you could not be told.",
    "any-direction": "Any angle between front and side will do here.",
    "straight-enough": lambda given: f"The phone stands {_place(given)}, {_off(given)} off: straight enough.",
    "beside-place": _beside_place,
    "off-place": lambda given: f"The phone should stand {_place(given)} but is {_off(given)} off that: {_turn(given)}.",
    "too-small": lambda given: (
        f"{_fills(given)}: too small. Bring the phone to about {given['distance_percent']}% of its distance now."
    ),
    "too-close": lambda given: f"{_fills(given)}: too close. Go about {given['times']} times as far away.",
    "distance-good": lambda given: f"{_fills(given)}: a good distance.",
    "leaves-picture": _leaves_picture,
    "no-room-above": "There is no room above the highest point: tilt the phone up or take it farther away.",
    "little-room-above": (
        "There is little room above the head: see in the test clip that hands and weight stay in the picture at "
        "the highest point."
    ),
    "inside-picture": "All of you stays inside the picture.",
    "dark": "The picture is dark: switch on more light, best from behind the phone.",
    "against-light": (
        "You are much darker than what is behind you. If a window or lamp is there, turn so that it is behind the "
        "phone; if it is only dark clothes, leave it."
    ),
    "light-good": "There is enough light on you.",
    "joints-seen": "The joints that count can be seen.",
    "joints-hidden": _joints_hidden,
    "too-few-pictures": lambda given: (
        f"{given['rate']} pictures a second are too few for times and speeds: choose 30 or 60 in the phone's camera."
    ),
    "few-pictures": lambda given: (
        f"{given['rate']} pictures a second do; 30 or 60 make times more exact. More light often brings them."
    ),
    "pictures-enough": lambda given: f"{given['rate']} pictures a second: enough.",
    "short-clip": lambda given: f"The clip lasts {given['seconds']} s; ten seconds with two slow reps tell more.",
}
