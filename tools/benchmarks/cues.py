"""Whether the next cue is what a coach would say, set by set.

    python tools/benchmarks/cues.py PART [--only WORD ...]

For the sets of `coach_cues.toml` (part reporting-1, opened once) the right answer is the coach's. For any other part
it is derived from the truth: a planted fault, with its side and first rep; any other point that is truly at fault in
half of the reps; and for a clean set none. A cue is right when its check speaks of the fault and side and first rep
agree, to one rep.
"""

from __future__ import annotations

import argparse
import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any, Literal

from formcheck.analysis import analyse
from formcheck.report.next_cue import NextCue, choose_next_cue
from formcheck.verdicts import grade_points
from rendered_sets import RenderedSet, analyse_set, beyond_limits, map_sets

COACH_PART = "reporting-1"
_TORSO = ("torso-still", "torso-parallel", "torso-over", "torso-upright", "no-swing", "no-lean", "no-lean-back")
CHECKS_OF: Mapping[str, tuple[str, ...]] = {
    "falls_short": (
        *("height", "overhead", "to-arms-length", "depth", "far-over", "all-the-way-up", "pulled-in", "open-wide"),
        *("arms-high", "arms-level", "to-the-ribs"),
    ),
    "gets_shallow": ("depth", "far-over", "range-kept"),
    "stops_at_shoulders": ("overhead", "height", "range-kept"),
    "range_fades": (
        "range-kept",
        "height",
        "overhead",
        "depth",
        "far-over",
        "all-the-way-up",
        "pulled-in",
        "open-wide",
        "to-arms-length",
        "arms-high",
    ),
    "half_reps": ("range-kept", "depth"),
    "one_side_lower": ("even-sides",),
    "bar_tilts": ("even-sides",),
    "fast_lowering": ("lowering",),
    "swings": ("no-swing", "torso-still", "no-lean-back"),
    "leans_back": ("no-lean-back", "no-lean", "no-far-lean", "no-swing", "torso-upright"),
    "leans_sideways": ("no-side-lean",),
    "legs_help": ("no-leg-drive",),
    "shrugs": ("shoulders-creep",),
    "arms_out_of_line": ("hands-in-line",),
    "elbows_bent": ("arms-long", "elbows-soft"),
    "elbows_locked": ("elbows-soft",),
    "raised_too_high": ("not-above", "arms-not-above"),
    "wrists_low": ("height",),
    "pauses_long": ("brief-pause", "short-pause"),
    "no_hold": ("hold-at-top",),
    "stays_high": ("weights-at-shoulders", "down-to-chest"),
    "forearms_not_upright": ("forearms-upright",),
    "elbows_behind": ("elbows-not-behind",),
    "torso_drifts_up": _TORSO,
    "torso_rises": _TORSO,
    "torso_high": _TORSO,
    "torso_jerks": _TORSO,
    "arms_low": ("arms-high", "height", "arms-level"),
    "chest_leaves_pad": ("chest-on-pad",),
    "chest_lifts": ("chest-down",),
    "tips_forward": ("chest-up",),
    "knees_in": ("knees-out",),
    "hips_first": ("chest-with-hips", "chest-up"),
    "not_upright": ("stand-tall",),
    "leans_back_at_top": ("stand-tall",),
    "knees_bend": ("knees-soft", "knees-bent", "knees-stay-back"),
    "weight_drifts": ("weight-close", "bar-close"),
    "upper_arm_drifts": ("elbow-still",),
    "not_straightened": ("all-the-way-down",),
}
"""Kind of planted fault → ids of the checks that speak of it, in whatever exercise has them."""
Verdict = Literal["right", "nothing told", "another point", "side", "rep", "told where nothing is"]


@dataclass(frozen=True)
class Answer:
    """One cue that would be right."""

    checks: tuple[str, ...]
    side: str = ""
    reps: tuple[int, ...] = ()
    """The first rep that shows it, or the single ones; empty where any will do."""
    topic: str = ""


@dataclass(frozen=True)
class Outcome:
    """What was told of one set and what was due."""

    name: str
    verdict: Verdict
    told: str
    due: str
    clean: bool
    seen: bool
    """An eye at this camera could see the fault."""
    measured: bool
    """A check that speaks of it has a grade."""


@cache
def load_coach() -> Mapping[str, dict[str, Any]]:
    """The coach's cues by set."""
    text = Path(__file__).with_name("coach_cues.toml").read_text(encoding="utf-8")
    return {one["name"]: one for one in tomllib.loads(text)["sets"]}


def list_answers(part: str, one: RenderedSet) -> tuple[list[Answer], bool]:
    """Every right answer, none for a clean set, and whether an eye at this camera could see the fault."""
    if part == COACH_PART:
        coach = load_coach()[one.name]
        if coach["cue"] == "none":
            return [], True
        reps = tuple(coach.get("reps", (coach.get("from_rep"),)))
        topics = (coach["cue"], *coach.get("also", ()))
        checks = tuple(coach["checks"])
        main = Answer(checks + CHECKS_OF.get(topics[0], ()), coach.get("side", ""), reps, topics[0])
        return [main, *(Answer(CHECKS_OF.get(topic, ()), topic=topic) for topic in topics[1:])], coach.get("seen", True)
    answers = [
        Answer(
            CHECKS_OF.get(fault["kind"], ()),
            fault.get("side", ""),
            tuple(fault["reps"]) if fault["kind"] == "half_reps" else tuple(fault["reps"][:1]),
            fault["kind"],
        )
        for fault in one.document["faults"]
    ]
    excess = beyond_limits(one, one.true_measures(analyse_set(one))[1])
    answers += [Answer((check,), topic=f"true {check}") for check, value in excess.items() if value.usual >= 1.0]
    return answers, True


def rate(cue: NextCue | None, answers: Sequence[Answer], *, seen: bool) -> Verdict:
    """Whether what is told is among the right answers, or what is wrong with it."""
    told = cue is not None and cue.kind == "change"
    if cue is None or not told:
        return "right" if not answers or not seen else "nothing told"
    if not answers:
        return "told where nothing is"
    fitting = [answer for answer in answers if cue.check in answer.checks]
    if not fitting:
        return "another point"
    fitting = [answer for answer in fitting if answer.side in ("", cue.side)]
    if not fitting:
        return "side"
    first = cue.from_rep if cue.from_rep is not None else min(cue.reps)
    # A fault that grows begins where somebody begins to call it one: later than it was planted.
    near = [
        answer
        for answer in fitting
        if not answer.reps
        or set(cue.reps) & set(answer.reps)
        or min(abs(first - rep) for rep in answer.reps) <= 1
        or answer.topic == "torso_drifts_up"
    ]
    return "right" if near else "rep"


def review_one(one: RenderedSet, part: str) -> Outcome | None:
    """What is told of one set; None of one that no coach spoke of."""
    if part == COACH_PART and one.name not in load_coach():
        return None
    review = analyse(one.recording, one.exercise).review
    cue = choose_next_cue(review, one.exercise)
    answers, seen = list_answers(part, one)
    told = "-" if cue is None else f"{cue.kind} {cue.check} {cue.side or ''} {_format_reps(cue)}: {cue.cue} {cue.why}"
    due = "; ".join(f"{answer.topic} {answer.side} {list(answer.reps)}" for answer in answers) or "nothing"
    graded = {check for check, grade in grade_points(review).items() if grade is not None}
    measured = any(set(answer.checks) & graded for answer in answers)
    return Outcome(one.name, rate(cue, answers, seen=seen), told, due, not answers, seen, measured)


def _format_reps(cue: NextCue) -> str:
    return f"from {cue.from_rep}" if cue.from_rep is not None else str(list(cue.reps))


def main() -> None:
    """Print a set a line, and the numbers."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("part")
    parser.add_argument("--only", nargs="+", default=[""], metavar="WORD", help="sets whose name holds one of these")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    review = partial(review_one, part=options.part)
    results = map_sets(review, options.part, options.only, processes=options.processes)
    found = [one for one in results if one is not None]
    for one in found:
        print(f"{one.name}: {'RIGHT' if one.verdict == 'right' else 'WRONG, ' + one.verdict}")
        print(f"    told: {one.told.replace(chr(160), ' ')}\n    due:  {one.due}")
    print()
    for name, group in (
        ("clean sets", [one for one in found if one.clean]),
        ("fault with a check this camera decides", [one for one in found if one.measured and one.seen]),
        ("fault with none", [one for one in found if not one.clean and not one.measured and one.seen]),
        ("fault no eye can see from there", [one for one in found if not one.seen]),
        ("all", found),
    ):
        counts = Counter(one.verdict for one in group)
        rest = ", ".join(f"{amount} {verdict}" for verdict, amount in counts.items() if verdict != "right")
        if group:
            print(f"{name}: {counts['right']} of {len(group)} right{'; ' + rest if rest else ''}")


if __name__ == "__main__":
    main()
