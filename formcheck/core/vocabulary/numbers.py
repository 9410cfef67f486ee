"""How numbers, margins and lists of reps are written, the same in findings, report, page and command line."""

from collections.abc import Sequence
from datetime import date, datetime
from math import ceil, floor, isfinite, log10

PERCENT = frozenset({"range_share"})
"""Measures that are ratios in the code and per cent for the reader."""
HARD = "\u00a0"
"""A space at which no line breaks."""
NOT_MEASURED = "not measured"

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
"""Whatever language the system speaks."""
_SIGNS = {"deg": "°", "deg/s": f"{HARD}°/s", "s": f"{HARD}s"}
_DECIMALS = {"s": 1, "ratio": 2, "none": 2}


def format_number(value: float, unit: str, *, percent: bool = False, decimals: int | None = None) -> str:
    """A value in its unit.

    Parameters
    ----------
    value : in `unit`; not NaN.
    unit : ``deg``, ``deg/s``, ``s``, ``ratio`` or ``none``.
    percent : write a ratio in per cent.
    decimals : None: as many as are usual for the unit.
    """
    decimals = _get_usual_decimals(unit, percent) if decimals is None else decimals
    shown = format_decimals((100 if percent else 1) * value, decimals)
    return f"{shown}{HARD}%" if percent else f"{shown}{_SIGNS.get(unit, '')}"


def _get_usual_decimals(unit: str, percent: bool) -> int:
    return 0 if percent else _DECIMALS.get(unit, 0)


def format_with_margin(value: float | None, margin: float | None, unit: str, name: str = "", *, finer: int = 0) -> str:
    """``92° ± 4°``; `NOT_MEASURED` where there is no value, and no ± where the margin is unknown.

    The margin is rounded up, so that what is shown never claims more than was measured.

    finer : so many decimals more than the margin asks for.
    """
    if value is None or not isfinite(value):
        return NOT_MEASURED
    percent = name in PERCENT
    if margin is None or not isfinite(margin):
        return format_number(value, unit, percent=percent)
    return format_rounded(
        *round_to_margin(value, margin, unit, name, finer=finer),
        count_decimals(margin, unit, name, finer=finer),
        unit,
        name,
    )


def format_rounded(value: float, margin: float, decimals: int, unit: str, name: str = "") -> str:
    """``92° ± 4°`` of a value and a margin that are rounded already (`round_to_margin`)."""
    shown, off = (format_number(item, unit, percent=name in PERCENT, decimals=decimals) for item in (value, margin))
    return f"{shown}{HARD}±{HARD}{off}"


def round_to_margin(value: float, margin: float, unit: str, name: str = "", *, finer: int = 0) -> tuple[float, float]:
    """Value and margin, in their unit, as `format_with_margin` shows them: the margin rounded up and never zero."""
    scale, decimals = 100 if name in PERCENT else 1, count_decimals(margin, unit, name, finer=finer)
    up = max(round_up(scale * margin, decimals), 10.0**-decimals)
    return round(scale * value, decimals) / scale, up / scale


def count_decimals(margin: float, unit: str, name: str = "", *, finer: int = 0) -> int:
    """Decimals of a value with this margin (arguments as for `format_with_margin`); negative: tens, hundreds."""
    percent = name in PERCENT
    return fit_decimals(_get_usual_decimals(unit, percent), 100 * margin if percent else margin) + finer


def round_up(margin: float, decimals: int) -> float:
    """A margin to so many decimals, never less than it is; negative: tens, hundreds."""
    scale = 10.0**decimals
    # What floating point adds to a margin that has just these decimals is not a digit of it.
    return ceil(round(margin * scale, 6)) / scale


def fit_decimals(usual: int, margin: float | None) -> int:
    """The usual number of decimals, or as many as keep the margin at two figures; negative: tens, hundreds."""
    if margin is None or not isfinite(margin) or margin <= 0:
        return usual
    return min(usual, 1 - floor(log10(margin)))


def format_limit(value: float, unit: str, *, percent: bool = False) -> str:
    """A limit in its unit: the usual decimals, and more where it has them."""
    shown = (100 if percent else 1) * value
    usual = range(_get_usual_decimals(unit, percent), 4)
    decimals = next((count for count in usual if abs(round(shown, count) - shown) < 1e-9), 4)
    return format_number(value, unit, percent=percent, decimals=decimals)


def format_decimals(value: float, decimals: int) -> str:
    """A number with so many decimals and a true minus sign; a minus before a zero would be read as a direction."""
    return f"{round(value, decimals) + 0.0:.{max(decimals, 0)}f}".replace("-", "−")


def format_reps(numbers: Sequence[int], total: int = 0) -> str:
    """``rep 3``, ``reps 1, 3 and 5–7``, ``both reps``, ``all 6 reps``; empty for no rep.

    Parameters
    ----------
    numbers : rep numbers, in any order.
    total : reps in the set; 0 = unknown.
    """
    wanted = sorted(set(numbers))
    if not wanted:
        return ""
    if len(wanted) == 1:
        return f"rep {wanted[0]}"
    if len(wanted) == total:
        return "both reps" if total == 2 else f"all {total} reps"
    runs: list[list[int]] = []
    for item in wanted:
        if runs and item == runs[-1][-1] + 1:
            runs[-1].append(item)
        else:
            runs.append([item])
    parts: list[str] = []
    for run in runs:
        parts += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(item) for item in run]
    return "reps " + (parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1])


def format_day(day: date) -> str:
    """A day as every text shows it: the number, the month in three letters, the year."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def format_time(moment: datetime) -> str:
    """A day as `format_day` and a time of it on this machine's clock, in 24 hours."""
    local = moment.astimezone()
    return f"{format_day(local)}, {local:%H:%M}"


def format_moment(seconds: float) -> str:
    """Minutes and seconds in the clip: ``0:04.2``."""
    tenths = round(max(seconds, 0.0) * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
