"""Advice for the next session, never an order: the trade's rules as data, each with its inputs and its doubt.

The rules stand in ``advice.toml``. Pain noted gives nothing but "stop and have it looked at"; a session that was
filmed poorly gives no advice at all. No rule raises the load where a point was missed in two reps or more, where reps,
range or tempo stayed short of the plan, where nothing was left, or where pain was noted in the last three sessions of
any exercise for the same joint.
"""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from statistics import fmean
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from formcheck.coaching.note import SetNote
from formcheck.coaching.pain_history import NotedSession, describe_pain, describe_pain_elsewhere, mentions_pain
from formcheck.coaching.plan import Plan, PlannedSet
from formcheck.coaching.plan_adherence import (
    RANGE_MEASURES,
    compare_with_plan,
    planned_set,
    probably_below,
    reps_below,
    reps_over,
)
from formcheck.core.errors import UsageError
from formcheck.core.model import Review
from formcheck.core.vocabulary.problems import PROBLEMS
from formcheck.exercises.registry import cautions, get_exercise, references

Kind = Literal["stop", "back_off", "ease", "raise", "hold", "none"]
When = Literal[
    "pain_noted",
    "form_lost",
    "far_under_target",
    "stalled_and_harder",
    "pain_recently",
    "point_missed",
    "short_of_range_or_tempo",
    "stalled",
    "under_target",
    "nothing_left",
    "load_jumped",
    "over_target_in_last_set",
    "top_of_range",
    "always",
]


@dataclass(frozen=True, slots=True)
class TrainedSet:
    """One set as it was done."""

    review: Review
    note: SetNote | None = None


@dataclass(frozen=True, slots=True)
class TrainedSession:
    """The sets of one exercise on one day, in their order, with the plan that held."""

    day: date
    sets: tuple[TrainedSet, ...]
    plan: Plan | None = None

    @property
    def noted(self) -> NotedSession:
        """What was noted of it."""
        return NotedSession(self.day, self.sets[0].review.exercise.id, tuple(item.note for item in self.sets))


@dataclass(frozen=True, slots=True)
class Advice:
    """What the trade would consider, and why; `kind` is ``none`` where nothing can be said."""

    kind: Kind
    rule: str
    text: str
    inputs: tuple[str, ...]
    """What the rule looked at, one sentence each."""
    doubt: tuple[str, ...]
    source: str
    load_low_kg: float | None = None
    load_high_kg: float | None = None
    stop_signs: str = ""
    """When to stop at once; given with every advice to go on training."""


class _Data(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class _Quality(_Data):
    tracked_share_least: Annotated[float, Field(ge=0, le=1)]
    range_measured_least: Annotated[float, Field(ge=0, le=1)]


class _Pain(_Data):
    sessions: Annotated[int, Field(ge=1)]


class _Form(_Data):
    range: Annotated[tuple[str, ...], Field(strict=False)]
    torso: Annotated[tuple[str, ...], Field(strict=False)]
    reps_least: Annotated[int, Field(ge=1)]


class Rule(_Data):
    """One rule of the trade; a number that its condition does not use is left at its default."""

    id: str
    when: When
    kind: Kind
    text: str
    doubt: str
    source: str
    text_without_load: str | None = None
    load_low_percent: float | None = None
    load_high_percent: float | None = None
    reps_over: Annotated[int, Field(ge=1)] = 2
    sessions: Annotated[int, Field(ge=1)] = 2
    reserve_least: Annotated[float, Field(ge=0)] = 2.0
    share: Annotated[float, Field(gt=0, le=1)] = 0.75
    jump_percent: Annotated[float, Field(gt=0)] = 10.0


class Rules(_Data):
    """Everything in ``advice.toml``."""

    quality: _Quality
    pain: _Pain
    form: _Form
    rules: Annotated[tuple[Rule, ...], Field(strict=False, min_length=1)]


@dataclass(frozen=True, slots=True)
class _Case:
    """What the conditions look at: the sessions, none of them empty, and pain noted before or elsewhere."""

    done: tuple[TrainedSession, ...]
    rules: Rules
    pain_lately: tuple[str, ...]

    @property
    def newest(self) -> TrainedSession:
        return self.done[-1]


@cache
def shipped_rules() -> Rules:
    """The rules as shipped."""
    text = Path(__file__).with_name("advice.toml").read_text(encoding="utf-8")
    return Rules.model_validate(tomllib.loads(text))


def advise(
    sessions: Sequence[TrainedSession], others: Sequence[NotedSession] = (), *, rules: Rules | None = None
) -> Advice:
    """The first rule that applies to the newest session.

    Parameters
    ----------
    sessions : of one client and exercise, the oldest first; those without sets are passed over.
    others : what was noted in sessions of the client's other exercises, in any order: pain in one that loads the same
        joint counts here too.
    """
    rules = rules or shipped_rules()
    done = tuple(session for session in sessions if session.sets)
    if not done:
        return Advice("none", "no-session", "No advice: no session of this exercise is stored yet.", (), (), "")
    case = _Case(done, rules, _pain_lately(done, others, rules.pain.sessions))
    hurts = any(mentions_pain(item.note) for item in case.newest.sets)
    reason = None if hurts else _too_poor(case.newest, rules)
    if reason is not None:
        return Advice("none", "poor-quality", f"No advice: {reason}", (), case.pain_lately, "")
    for rule in rules.rules:
        inputs = _CONDITIONS[rule.when](case, rule)
        if inputs:
            return _advice(rule, case, inputs)
    return Advice("none", "no-rule", "No advice: no rule applies to this session.", (), case.pain_lately, "")


def _pain_lately(done: Sequence[TrainedSession], others: Sequence[NotedSession], count: int) -> tuple[str, ...]:
    """Pain in the sessions before the newest one and in other exercises, one sentence each."""
    own = [sentence for session in done[-count:-1] for sentence in describe_pain(session.noted)]
    return (*own, *describe_pain_elsewhere(others, done[-1].noted.exercise_id, count))


# ---------------------------------------------------------------- conditions: what was looked at; nothing: not so


def _pain_noted(case: _Case, _rule: Rule) -> Sequence[str]:
    return describe_pain(case.newest.noted)


def _pain_recently(case: _Case, _rule: Rule) -> Sequence[str]:
    return case.pain_lately


def _form_lost(case: _Case, _rule: Rule) -> Sequence[str]:
    form, told = case.rules.form, []
    for number, item in enumerate(case.newest.sets, 1):
        for finding in item.review.findings:
            of_form = finding.measure in (*form.range, *form.torso)
            if of_form and finding.verdict == "not_met" and len(finding.reps) >= form.reps_least:
                what = "range was lost" if finding.measure in form.range else "the torso moved"
                told.append(f"Set {number}: {what} in {len(finding.reps)} of {len(item.review.reps)} reps.")
    return told


def _point_missed(case: _Case, rule: Rule) -> Sequence[str]:
    missed: dict[str, int] = {}
    for item in case.newest.sets:
        for finding in item.review.findings:
            if finding.verdict == "not_met":
                missed[finding.check] = missed.get(finding.check, 0) + len(finding.reps)
    title = _titles(case.newest.noted.exercise_id)
    return [f"“{title.get(key, key)}” was missed in {n} reps." for key, n in missed.items() if n >= rule.reps_over]


def _short_of_range_or_tempo(case: _Case, _rule: Rule) -> Sequence[str]:
    plan, reviews = case.newest.plan, [item.review for item in case.newest.sets]
    if plan is None:
        return ()
    told, short = [], dict[str, int]()
    for done, review in zip(compare_with_plan(plan, reviews), reviews, strict=False):
        below = reps_below(plan, review)
        for target in done.targets:
            short[target.name] = short.get(target.name, 0) + below.get(target.name, 0)
            if target.call == "below":
                told.append(f"Set {done.number}: {_TARGETS[target.name]} stayed below the plan.")
            elif probably_below(target):
                told.append(f"Set {done.number}: {_TARGETS[target.name]} probably stayed below the plan.")
            elif target.done is None:
                told.append(f"Set {done.number}: {_TARGETS[target.name]} was planned and could not be measured.")
    least = case.rules.form.reps_least
    told += [f"In {n} reps {_TARGETS[name]} stayed below the plan." for name, n in short.items() if n >= least]
    return told


def _under_target(case: _Case, _rule: Rule) -> Sequence[str]:
    told = []
    for number, planned, item in _planned_sets(case.newest):
        if item is None:
            told.append(f"Set {number} was planned and is not recorded.")
        elif reps_over(planned, _complete(item.review)) < 0:
            told.append(f"Set {number}: {_complete(item.review)} reps for {_target(planned)} planned.")
    return told


def _far_under_target(case: _Case, rule: Rule) -> Sequence[str]:
    sets = [(planned, item.review) for _, planned, item in _planned_sets(case.newest) if item is not None]
    done, wanted = sum(_complete(review) for _, review in sets), sum(planned.reps_low for planned, _ in sets)
    return [f"{done} reps in all for {wanted} planned."] if done < rule.share * wanted else ()


def _stalled(case: _Case, rule: Rule) -> Sequence[str]:
    some = case.done[-rule.sessions :]
    loads = {_loads(session) for session in some}
    if len(some) < rule.sessions or len(loads) > 1 or None in loads or _at_top(case.newest):
        return ()
    reps = [sum(_complete(item.review) for item in session.sets) for session in some]
    if not _planned_sets(case.newest) or reps[-1] > reps[0]:
        return ()
    return [f"{session.day:%Y-%m-%d}: {count} reps in all." for session, count in zip(some, reps, strict=True)]


def _stalled_and_harder(case: _Case, rule: Rule) -> Sequence[str]:
    told = _stalled(case, rule)
    some = case.done[-rule.sessions :]
    efforts = [_mean([item.note.effort for item in session.sets if item.note]) for session in some]
    left = [_mean([item.note.reps_in_reserve for item in session.sets if item.note]) for session in some]
    return [*told, "It got harder from session to session."] if told and (_rises(efforts) or _rises(left[::-1])) else ()


def _nothing_left(case: _Case, _rule: Rule) -> Sequence[str]:
    left = [(number, _left(item.note)) for number, item in enumerate(case.newest.sets, 1)]
    return [f"Set {number}: noted as having nothing left." for number, value in left if value is not None and value < 1]


def _load_jumped(case: _Case, rule: Rule) -> Sequence[str]:
    if len(case.done) < 2:
        return ()
    before, now = (_heaviest(session) for session in case.done[-2:])
    if not before or now is None or now <= before * (1 + rule.jump_percent / 100):
        return ()
    return [f"{_kg(before)} kg in the session before, {_kg(now)} kg in this one."]


def _over_target(case: _Case, rule: Rule) -> Sequence[str]:
    some = case.done[-rule.sessions :]
    if len(some) < rule.sessions or any(_too_poor(session, case.rules) for session in some):
        return ()
    told, loads = [], set()
    for session in some:
        # Judged on the last set planned: one added at will has no target, one left out was not reached.
        number = len(session.plan.sets) if session.plan is not None else len(session.sets)
        if number > len(session.sets):
            return ()
        review = session.sets[number - 1].review
        planned = planned_set(session.plan, number, review.set_info.target_reps)
        if planned is None or reps_over(planned, _complete(review)) < rule.reps_over:
            return ()
        loads.add(review.set_info.load_kg)
        told.append(f"{session.day:%Y-%m-%d}, set {number}: {_complete(review)} reps for {_target(planned)} planned.")
    return told if len(loads) == 1 and None not in loads else ()


def _top_of_range(case: _Case, rule: Rule) -> Sequence[str]:
    newest = case.newest
    some = case.done[-rule.sessions :]
    if len(some) < rule.sessions or not _at_top(newest) or _loads(newest) is None:
        return ()
    left = _least_left(newest)
    told = f"{newest.day:%Y-%m-%d}: every set reached the planned {_tops(newest)} reps"
    if _ranged(newest) and left is not None and left >= rule.reserve_least:
        return [f"{told}, with {left:g} or more left."]
    if any(not _at_top(session) or _too_poor(session, case.rules) for session in some):
        return ()
    if len({_loads(session) for session in some}) > 1:
        return ()
    lefts = [_least_left(session) for session in some]
    # Without a range of reps the lifter stops at the planned number: only what was left shows that there is more.
    if not _ranged(newest) and any(value is None or value < rule.reserve_least for value in lefts):
        return ()
    return [f"{told}, as in the session before."]


def _always(case: _Case, _rule: Rule) -> Sequence[str]:
    told = []
    for number, item in enumerate(case.newest.sets, 1):
        planned = planned_set(case.newest.plan, number, item.review.set_info.target_reps)
        told.append(
            f"Set {number}: {_complete(item.review)} reps{f' for {_target(planned)} planned' if planned else ''}."
        )
    return told


_CONDITIONS: dict[When, Callable[[_Case, Rule], Sequence[str]]] = {
    "pain_noted": _pain_noted,
    "form_lost": _form_lost,
    "far_under_target": _far_under_target,
    "stalled_and_harder": _stalled_and_harder,
    "pain_recently": _pain_recently,
    "point_missed": _point_missed,
    "short_of_range_or_tempo": _short_of_range_or_tempo,
    "stalled": _stalled,
    "under_target": _under_target,
    "nothing_left": _nothing_left,
    "load_jumped": _load_jumped,
    "over_target_in_last_set": _over_target,
    "top_of_range": _top_of_range,
    "always": _always,
}


# ---------------------------------------------------------------- what the conditions read


def _planned_sets(session: TrainedSession) -> list[tuple[int, PlannedSet, TrainedSet | None]]:
    """Number, plan and set of every set that was planned; None for one that is not recorded."""
    count = max(len(session.sets), len(session.plan.sets) if session.plan is not None else 0)
    found = []
    for number in range(1, count + 1):
        item = session.sets[number - 1] if number <= len(session.sets) else None
        planned = planned_set(session.plan, number, None if item is None else item.review.set_info.target_reps)
        if planned is not None:
            found.append((number, planned, item))
    return found


def _at_top(session: TrainedSession) -> bool:
    planned = _planned_sets(session)
    return bool(planned) and all(
        item is not None and _complete(item.review) >= wanted.reps_high for _, wanted, item in planned
    )


def _tops(session: TrainedSession) -> str:
    tops = [str(planned.reps_high) for _, planned, _ in _planned_sets(session)]
    return tops[0] if len(set(tops)) == 1 else "/".join(tops)


def _ranged(session: TrainedSession) -> bool:
    return any(planned.reps_low < planned.reps_high for _, planned, _ in _planned_sets(session))


def _loads(session: TrainedSession) -> tuple[float, ...] | None:
    """The loads of the planned sets; None when one of them is not known."""
    loads = [item.review.set_info.load_kg for _, _, item in _planned_sets(session) if item is not None]
    known = tuple(load for load in loads if load is not None)
    return known if loads and len(known) == len(loads) else None


def _heaviest(session: TrainedSession) -> float | None:
    loads = (item.review.set_info.load_kg for item in session.sets)
    return max((load for load in loads if load is not None), default=None)


def _left(note: SetNote | None) -> float | None:
    """How many more reps were possible: as noted, or what the effort says (10 is none left: common practice)."""
    if note is None:
        return None
    told = (note.reps_in_reserve, None if note.effort is None else 10 - note.effort)
    return min((value for value in told if value is not None), default=None)


def _least_left(session: TrainedSession) -> float | None:
    """The least left of the planned sets; None when nothing was noted of the last of them."""
    left = [_left(item.note) for _, _, item in _planned_sets(session) if item is not None]
    known = [value for value in left if value is not None]
    return min(known) if left and left[-1] is not None else None


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return fmean(known) if known else None


def _rises(values: Sequence[float | None]) -> bool:
    """Whether a value noted in every session never falls and rises by 1 and more."""
    known = [value for value in values if value is not None]
    return len(known) == len(values) and known == sorted(known) and known[-1] - known[0] >= 1


def _titles(exercise_id: str) -> dict[str, str]:
    try:
        return {check.id: check.title for check in get_exercise(exercise_id).checks}
    except UsageError:
        return {}


# ---------------------------------------------------------------- words


def _too_poor(session: TrainedSession, rules: Rules) -> str | None:
    for number, item in enumerate(session.sets, 1):
        review = item.review
        for problem in review.quality.problems:
            known = PROBLEMS.get(problem.code)
            return f"the clip of set {number} cannot be relied on. {known.meaning if known else ''}".strip()
        if not review.reps:
            return f"no reps were found in set {number}, so it cannot be judged."
        if review.quality.tracked_share < rules.quality.tracked_share_least:
            return f"in set {number} the lifter was found in only {review.quality.tracked_share:.0%} of the pictures."
        asked = [item for item in review.measures if item.name in (*RANGE_MEASURES, *rules.form.range)]
        measured = {item.rep for item in asked if item.value is not None}
        if asked and len(measured) < rules.quality.range_measured_least * len(review.reps):
            return f"the range of set {number} could be measured in too few reps from this camera."
    return None


def _advice(rule: Rule, case: _Case, inputs: Sequence[str]) -> Advice:
    newest = case.newest
    load = newest.sets[-1].review.set_info.load_kg
    low = high = None
    if load is not None and load > 0 and rule.load_low_percent is not None and rule.load_high_percent is not None:
        low, high = (load * (1 + part / 100) for part in (rule.load_low_percent, rule.load_high_percent))
    values = {"where": _where(newest), "load": _load_text(load, low, high, newest)}
    values |= {"reps": str(rule.reps_over), "sessions": _COUNTS.get(rule.sessions, str(rule.sessions))}
    text = rule.text_without_load if load == 0 and rule.text_without_load is not None else rule.text
    doubt = [rule.doubt]
    if rule.kind != "stop":
        doubt += [*(() if rule.when == "pain_recently" else case.pain_lately), *_doubts(newest, case.rules)]
    return Advice(
        rule.kind,
        rule.id,
        text.format(**values),
        tuple(inputs),
        tuple(doubt),
        references()[rule.source].text,
        low,
        high,
        "" if rule.kind == "stop" else cautions()["stop-signs"].text,
    )


_COUNTS = {1: "one", 2: "two", 3: "three", 4: "four"}


def _doubts(session: TrainedSession, rules: Rules) -> list[str]:
    """What the advice does not know."""
    told = []
    measures = [item for part in session.sets for item in part.review.measures]
    for names, what in ((rules.form.range, "Loss of range"), (rules.form.torso, "Swing of the torso")):
        asked = [item for item in measures if item.name in names]
        if asked and all(item.value is None for item in asked):
            told.append(f"{what} could not be seen: {asked[0].missing_reason or 'not measured.'}")
    if all(part.review.set_info.load_kg is None for part in session.sets):
        told.append("The load is not known.")
    if all(part.note is None or part.note.pain is None for part in session.sets):
        told.append("Nothing was said about pain.")
    left = [value for part in session.sets if (value := _left(part.note)) is not None]
    if left and min(left) < 1:
        told.append("A set was noted as having nothing left in reserve.")
    if any(part.review.by_hand for part in session.sets):
        told.append("Some reps were set by hand.")
    return told


def _where(session: TrainedSession) -> str:
    notes = [item.note for item in session.sets if item.note is not None]
    places = list(dict.fromkeys(note.pain_where for note in notes if note.pain and note.pain_where))
    return f" ({', '.join(places)})" if places else ""


def _load_text(load: float | None, low: float | None, high: float | None, session: TrainedSession) -> str:
    if load is None or low is None or high is None:
        return ""
    last = "last set: " if len({item.review.set_info.load_kg for item in session.sets}) > 1 else ""
    if low == high:
        return f" ({last}{_kg(load)} kg)"
    return f" ({last}from {_kg(load)} kg to between {_kg(low)} and {_kg(high)} kg)"


def _kg(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _complete(review: Review) -> int:
    return sum(rep.complete for rep in review.reps)


def _target(planned: PlannedSet) -> str:
    low, high = planned.reps_low, planned.reps_high
    return str(low) if low == high else f"{low}-{high}"


_TARGETS = {
    "eccentric_time": "lowering",
    "bottom_pause": "the pause at the stretched end",
    "concentric_time": "lifting",
    "top_pause": "the pause at the shortened end",
    "range": "the range",
}
