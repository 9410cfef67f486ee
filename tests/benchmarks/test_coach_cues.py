"""The coach's cues: one for each of the sets they were written for, in topics and checks that can be looked up."""

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from formcheck.exercises.registry import get_exercise

FILE = Path(__file__).parent.parent.parent / "tools" / "benchmarks" / "coach_cues.toml"
KEYS = {"name", "cue", "also", "checks", "side", "from_rep", "reps", "seen", "words", "why"}


@cache
def cues() -> list[dict[str, Any]]:
    return list(tomllib.loads(FILE.read_text(encoding="utf-8"))["sets"])


def reps_of(one: dict[str, Any]) -> list[int]:
    """Reps that a cue names: single ones, or the one from which on it holds."""
    return list(one["reps"]) if "reps" in one else [one["from_rep"]]


@pytest.mark.parametrize("one", cues(), ids=[one["name"] for one in cues()])
def test_cue_is_well_formed(one: dict[str, Any]) -> None:
    from set_faults import FAULTS

    assert set(one) <= KEYS
    topics = {fault.kind for faults in FAULTS.values() for fault in faults}
    assert one["cue"] in topics | {"none"}
    assert set(one.get("also", ())) <= topics - {one["cue"]}
    assert one["words"].endswith(".")
    assert one["words"].count(".") == 1, "one sentence"
    assert re.search(r"\d", one["why"])
    if one["cue"] == "none":
        assert set(one) == {"name", "cue", "words", "why"}
        return
    exercise = get_exercise(one["name"][4:].replace("_", "-"))
    assert set(one["checks"]) <= {check.id for check in exercise.checks}
    assert one.get("side", "left") in ("left", "right")
    assert ("from_rep" in one) != ("reps" in one)


def test_each_of_the_first_forty_sets_has_its_cue_and_every_planted_fault_is_named() -> None:
    """A planted fault is named with its first rep and its side."""
    pytest.importorskip("pyvista", reason="the list of sets needs the render extra")
    from numbered_sets import films_of

    sets = [films_of("reporting-1", number)[0] for number in range(40)]
    assert [one["name"] for one in cues()] == [rendered.name for rendered in sets]
    for one, rendered in zip(cues(), sets, strict=True):
        if one["cue"] != "none":
            assert set(reps_of(one)) <= set(range(1, len(rendered.plan.reps) + 1)), one["name"]
        for fault in rendered.faults:
            assert fault.kind in {one["cue"], *one.get("also", ())}, one["name"]
            assert (one.get("side", ""), reps_of(one)[0]) == (fault.side, fault.reps[0]), one["name"]
