"""The plan of an exercise as the trade writes it: sets, reps, load, tempo, range.

Examples of the notation, all common practice::

    11/9/7 @ 6/7/8 kg
    6-9/5-7 @ 17.5/20 kg tempo 2-1-2-0
    9/9/9/9 @ 6 kg
    4x9 @ 8 kg, tempo 20X1, range 85°
    11/9 each side @ 6 kg

The four figures of the tempo are eccentric, pause at the stretched end, concentric, pause at the shortened end, in
seconds; X is as fast as possible. *Each side* counts the reps of the left and of the right by themselves.
"""

import math
import re
from dataclasses import dataclass

from formcheck.core.errors import UsageError

MOST_SETS = 30
MOST_REPS = 200
MOST_KG = 2000.0
LONGEST_PHASE_S = 60.0
LONGEST_TEXT = 1000
"""More characters than any plan has: with most sets, each with its own reps and load, it has fewer than 600."""
EXAMPLE = "11/9/7 @ 6/7/8 kg tempo 2-1-2-0"
EXAMPLE_EACH_SIDE = "9 each side @ 6 kg"

_NUMBER = r"\d{1,6}(?:[.,]\d{1,3})?"
_REPS = r"\d{1,4}(?:\s*-\s*\d{1,4})?"
_SETS = re.compile(rf"(?:(?P<times>\d{{1,3}})\s*x\s*(?P<each>{_REPS})|(?P<list>{_REPS}(?:\s*/\s*{_REPS})*))(?!\s*x)")
_EACH_SIDE = re.compile(r"(?:each|per) side\b")
_LOAD = re.compile(rf"@\s*(?P<load>{_NUMBER}(?:\s*/\s*{_NUMBER})*)\s*kg")
_PHASE = rf"(?:{_NUMBER}|x)"
_TEMPO = re.compile(rf"(?:tempo\s*)?(?P<tempo>{_PHASE}(?:\s*-\s*{_PHASE}){{3}})|tempo\s*(?P<short>[\dx]{{4}})(?!\d)")
_RANGE = re.compile(rf"range\s*(?P<range>{_NUMBER})\s*(?:°|deg)")


@dataclass(frozen=True, slots=True)
class PlannedSet:
    """One set of a plan: between `reps_low` and `reps_high` reps, at a load or with none given."""

    reps_low: int
    reps_high: int
    load_kg: float | None = None
    each_side: bool = False
    """So many reps are planned for the left and as many for the right."""

    def __post_init__(self) -> None:
        if not 1 <= self.reps_low <= self.reps_high <= MOST_REPS:
            raise UsageError(
                f"A planned set has between 1 and {MOST_REPS} reps, the smaller number first; "
                f"{self.reps_low}-{self.reps_high} is not that."
            )
        if self.load_kg is not None and not (math.isfinite(self.load_kg) and 0 <= self.load_kg <= MOST_KG):
            raise UsageError(f"A planned load is between 0 and {MOST_KG:g} kg.")

    @property
    def reps(self) -> str:
        """The reps as they are written: ``9``, ``6-9`` or ``9 each side``."""
        return f"{self.count}{' each side' if self.each_side else ''}"

    @property
    def count(self) -> str:
        """The number of reps as it is written: ``9`` or ``6-9``."""
        low, high = self.reps_low, self.reps_high
        return str(low) if low == high else f"{low}-{high}"


PlannedTempo = tuple[float | None, float | None, float | None, float | None]
"""Seconds: eccentric, pause stretched, concentric, pause shortened; None is as fast as possible."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What is planned for one exercise; `str` gives the notation, `parse_plan` reads it."""

    sets: tuple[PlannedSet, ...]
    tempo: PlannedTempo | None = None
    range_deg: float | None = None
    """Range of motion to be kept, degrees."""

    def __post_init__(self) -> None:
        if not 1 <= len(self.sets) <= MOST_SETS:
            raise UsageError(f"A plan has between 1 and {MOST_SETS} sets.")
        loads = [item.load_kg for item in self.sets]
        if None in loads and any(load is not None for load in loads):
            raise UsageError("A plan gives a load for every set or for none.")
        if len({item.each_side for item in self.sets}) > 1:
            raise UsageError("A plan counts the reps of every set each side or those of none.")
        if self.tempo is not None and not all(part is None or 0 <= part <= LONGEST_PHASE_S for part in self.tempo):
            raise UsageError(f"A phase of a planned tempo lasts between 0 and {LONGEST_PHASE_S:g} s.")
        if self.range_deg is not None and not 0 < self.range_deg <= 360:
            raise UsageError("A planned range is between 0 and 360 degrees.")

    def __str__(self) -> str:
        reps = [item.count for item in self.sets]
        text = f"{len(reps)}x{reps[0]}" if len(reps) > 1 and len(set(reps)) == 1 else "/".join(reps)
        text += " each side" if self.sets[0].each_side else ""
        loads = [_format_number(item.load_kg) for item in self.sets if item.load_kg is not None]
        if loads:
            text += f" @ {loads[0] if len(set(loads)) == 1 else '/'.join(loads)} kg"
        if self.tempo is not None:
            text += " tempo " + "-".join("X" if part is None else _format_number(part) for part in self.tempo)
        if self.range_deg is not None:
            text += f" range {_format_number(self.range_deg)}°"
        return text

    def for_set(self, number: int) -> PlannedSet | None:
        """What is planned for the set of this number, from 1; None beyond the plan."""
        return self.sets[number - 1] if 1 <= number <= len(self.sets) else None


def parse_plan(text: str) -> Plan:
    """Read the notation; UsageError says in one sentence what could not be read."""
    rest = " ".join(text.replace("–", "-").replace("−", "-").replace("×", "x").lower().split())
    if len(rest) > LONGEST_TEXT:
        raise UsageError(f"A plan has at most {LONGEST_TEXT} characters; write it like {EXAMPLE}.")
    if not rest:
        raise UsageError(f"The plan is empty; write it like {EXAMPLE}.")
    head = _SETS.match(rest)
    if head is None:
        raise UsageError(f"The plan {text.strip()[:80]!r} does not begin with sets and reps; write it like {EXAMPLE}.")
    rest = rest[head.end() :].lstrip(" ,;")
    each_side = _EACH_SIDE.match(rest)
    if each_side is not None:
        rest = rest[each_side.end() :].lstrip(" ,;")
    found: dict[str, re.Match[str]] = {}
    while rest:
        for name, pattern in (("load", _LOAD), ("tempo", _TEMPO), ("range", _RANGE)):
            match = pattern.match(rest)
            if match is not None and name in found:
                raise UsageError(f"The plan {text.strip()[:80]!r} gives the {name} twice.")
            if match is not None:
                found[name] = match
                rest = rest[match.end() :].lstrip(" ,;")
                break
        else:
            if _EACH_SIDE.match(rest):
                raise UsageError(
                    f"In the plan {text.strip()[:80]!r}, “each side” stands once, behind the reps: {EXAMPLE_EACH_SIDE}."
                )
            raise UsageError(f"In the plan, {rest[:60]!r} cannot be read; write it like {EXAMPLE}.")
    reps = _read_reps(head)
    loads = _read_loads(found.get("load"), len(reps))
    return Plan(
        tuple(
            PlannedSet(low, high, load, each_side is not None) for (low, high), load in zip(reps, loads, strict=True)
        ),
        _read_tempo(found.get("tempo")),
        _read_number(found["range"]["range"]) if "range" in found else None,
    )


def _read_reps(head: re.Match[str]) -> list[tuple[int, int]]:
    if head["times"] is not None:
        count = int(head["times"])
        if not 1 <= count <= MOST_SETS:
            raise UsageError(f"A plan has between 1 and {MOST_SETS} sets.")
        parts = [head["each"]] * count
    else:
        parts = head["list"].split("/")
    ends = [[int(end) for end in part.split("-")] for part in parts]
    return [(pair[0], pair[-1]) for pair in ends]


def _read_loads(match: re.Match[str] | None, sets: int) -> list[float | None]:
    if match is None:
        return [None] * sets
    loads: list[float | None] = [_read_number(part) for part in match["load"].split("/")]
    if len(loads) == 1:
        return loads * sets
    if len(loads) != sets:
        raise UsageError(f"The plan has {sets} sets but {len(loads)} loads; give one load, or one for each set.")
    return loads


def _read_tempo(match: re.Match[str] | None) -> PlannedTempo | None:
    if match is None:
        return None
    parts = list(match["short"]) if match["short"] else match["tempo"].split("-")
    eccentric, stretched, concentric, shortened = (
        None if part.strip() == "x" else _read_number(part) for part in parts
    )
    return eccentric, stretched, concentric, shortened


def _read_number(text: str) -> float:
    return float(text.strip().replace(",", "."))


def _format_number(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")
