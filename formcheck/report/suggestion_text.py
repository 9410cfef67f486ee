"""The words for what in a movement speaks for an exercise (codes of `formcheck.recognition.template`)."""

from collections.abc import Mapping

_REASONS: Mapping[str, str] = {
    "torso-standing": "the torso as in a standing lift",
    "torso-seated": "the torso as in a seated lift",
    "torso-bent-over": "the torso as in a bent-over lift",
    "torso-prone": "the torso as in a prone lift",
    "thighs-standing": "the thighs of someone standing",
    "thighs-seated": "the thighs of someone seated",
    "thighs-bent-over": "the thighs of someone bent-over",
    "torso-bends": "the torso bending forward",
    "knees-still": "knees that hardly bend",
    "arms-hang": "arms that hang",
    "knees-bend": "knees bending and straightening",
    "thighs-down": "thighs going down",
    "legs-still": "legs that keep still",
    "torso-still": "a torso that keeps still",
    "elbows-bend-far": "elbows bending far",
    "upper-arms-still": "upper arms that keep still",
    "hands-to-shoulders": "hands that come up to the shoulders",
    "arms-at-shoulders": "arms at shoulder height",
    "hands-at-shoulders": "hands at shoulder height",
    "arms-open": "arms opening to the sides",
    "elbows-keep-bend": "elbows that keep their bend",
    "elbows-pull": "elbows bending as they pull",
    "hands-below-shoulders": "hands that stay below the shoulders",
    "elbows-back": "elbows pulled back",
    "elbows-bent-below": "bent elbows at the bottom",
    "elbows-straighten": "elbows straightening",
    "hands-overhead": "hands going overhead",
    "hands-start-at-shoulders": "hands at the shoulders at the bottom",
    "arms-rise": "arms going up",
    "arms-hang-first": "arms hanging at the start",
    "arms-long": "long arms",
    "arms-at-top": "the height of the arms at the top",
    "arms-rise-ahead": "arms going up ahead",
    "arms-rise-aside": "arms going up to the sides",
    "hands-on-bar": "hands that stay as far apart as a bar holds them",
}


def describe_reason(code: str) -> str:
    """What speaks for an exercise, in a few words."""
    return _REASONS[code]
