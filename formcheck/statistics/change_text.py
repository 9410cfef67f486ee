"""Plain words for changes of a number."""

from formcheck.core.vocabulary.numbers import PERCENT, fit_decimals, format_decimals, round_up

_SIGNS = {"deg": "°", "deg/s": " °/s", "s": " s", "percent": " %"}


def format_amount(value: float, unit: str, margin: float | None = None, *, measure: str = "") -> str:
    """A value in its unit as a person reads it, such as ``9° ± 4°``, with a digit more where it is small.

    Parameters
    ----------
    value, margin : in `unit`; margin None is left out.
    unit : ``deg``, ``deg/s``, ``s``, ``ratio`` or ``none``.
    measure : name of the measure; some ratios are written in per cent.
    """
    if measure in PERCENT:
        value, margin, unit = 100 * value, None if margin is None else 100 * margin, "percent"
    size = max(abs(value), margin or 0.0)
    usual = {"deg": int(size < 3), "deg/s": 0, "percent": 0, "s": 1 + int(size < 1)}.get(unit, 2)
    decimals, sign = fit_decimals(usual, margin), _SIGNS.get(unit, "")
    text = format_decimals(value, decimals) + sign
    return text if margin is None else f"{text} ± {format_decimals(round_up(margin, decimals), decimals)}{sign}"


def format_direction(change: float) -> str:
    """``rose`` or ``fell``."""
    return "rose" if change > 0 else "fell"


def format_rep_span(reps: tuple[int, ...]) -> str:
    """Rep numbers in words, such as ``rep 6`` or ``reps 5–7``; gaps are bridged."""
    first, last = min(reps), max(reps)
    return f"rep {first}" if first == last else f"reps {first}–{last}"
