"""Advice for the next session, never an order: the trade's rules as data, each with its inputs and its doubt.

The rules stand in ``advice.toml``. Pain noted gives nothing but "stop and have it looked at"; a session that was
filmed poorly gives no advice at all. No rule raises the load where a point was missed in two reps or more, where reps,
range or tempo stayed short of the plan, where nothing was left, or where pain was noted in the last three sessions of
any exercise for the same joint.
"""

import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from statistics import fmean
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from formcheck.coaching.note import SetNote
from formcheck.coaching.pain_history import NotedSession, find_pain, find_pain_elsewhere, mentions_pain
from formcheck.coaching.plan import Plan, PlannedSet
from formcheck.coaching.plan_adherence import (
    RANGE_MEASURES,
    compare_with_plan,
    count_planned_reps,
    count_reps_below,
    count_reps_over,
    get_planned_set,
    is_probably_below,
)
from formcheck.coaching.words import describe, write_kg
from formcheck.core.errors import UsageError
from formcheck.core.model import Message, MessageValue, Review, SetInfo
from formcheck.core.rep_sides import count_by_either_side, write_by_side
from formcheck.exercises.registry import get_exercise, load_cautions, load_references

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

    @property
    def reps_left(self) -> float | None:
        """How many more were possible: as noted, or what the effort says (10 is none left: common practice)."""
        if self.note is None:
            return None
        noted = (self.note.reps_in_reserve, None if self.note.effort is None else 10 - self.note.effort)
        return min((value for value in noted if value is not None), default=None)


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

    sessions: tuple[TrainedSession, ...]
    rules: Rules
    pain_lately: tuple[Message, ...]

    @property
    def newest(self) -> TrainedSession:
        return self.sessions[-1]


Inputs = Sequence[Message]
"""What a condition looked at; empty where it does not hold."""


@cache
def load_rules() -> Rules:
    """The rules as shipped."""
    text = Path(__file__).with_name("advice.toml").read_text(encoding="utf-8")
    return Rules.model_validate(tomllib.loads(text))


def advise(sessions: Sequence[TrainedSession], others: Sequence[NotedSession] = ()) -> Advice:
    """The first rule that applies to the newest session.

    Parameters
    ----------
    sessions : of one client and exercise, the oldest first; those without sets are passed over.
    others : what was noted in sessions of the client's other exercises, in any order: pain in one that loads the same
        joint counts here too.
    """
    rules = load_rules()
    done = tuple(session for session in sessions if session.sets)
    if not done:
        return _refuse("no-session", Message("no-session"))
    noted, count = [session.noted for session in done], rules.pain.sessions
    own = [message for session in noted[-count:-1] for message in find_pain(session)]
    case = _Case(done, rules, (*own, *find_pain_elsewhere(others, noted[-1].exercise_id, count)))
    hurts = any(mentions_pain(item.note) for item in case.newest.sets)
    reason = None if hurts else find_poor_clip(case.newest, rules)
    if reason is not None:
        return _refuse("poor-quality", reason, case.pain_lately)
    for rule in rules.rules:
        inputs = _CONDITIONS[rule.when](case, rule)
        if inputs:
            return _advise_by(rule, case, inputs)
    return _refuse("no-rule", Message("no-rule"), case.pain_lately)


def _refuse(rule: str, reason: Message, doubt: Inputs = ()) -> Advice:
    return Advice("none", rule, describe(reason), (), tuple(map(describe, doubt)), "")


# ---------------------------------------------------------------- conditions


def _form_lost(case: _Case, _rule: Rule) -> Inputs:
    form, found = case.rules.form, []
    for number, item in enumerate(case.newest.sets, 1):
        for finding in item.review.findings:
            of_form = finding.measure in (*form.range, *form.torso)
            if of_form and finding.verdict == "not_met" and len(finding.reps) >= form.reps_least:
                code = "range-lost" if finding.measure in form.range else "torso-moved"
                counts = {"count": len(finding.reps), "reps": len(item.review.reps)}
                found.append(Message(code, {"set": number, **counts}))
    return found


def _point_missed(case: _Case, rule: Rule) -> Inputs:
    missed: Counter[str] = Counter()
    for item in case.newest.sets:
        # A rep may miss a point by its level and by its change, and counts once.
        reps: dict[str, set[int]] = {}
        for finding in item.review.findings:
            if finding.verdict == "not_met":
                reps.setdefault(finding.check, set()).update(finding.reps)
        missed.update({check: len(numbers) for check, numbers in reps.items()})
    try:
        titles = {check.id: check.title for check in get_exercise(case.newest.noted.exercise_id).checks}
    except UsageError:
        titles = {}
    return [
        Message("point-missed", {"title": titles.get(check, check), "count": count})
        for check, count in missed.items()
        if count >= rule.reps_over
    ]


def _short_of_range_or_tempo(case: _Case, _rule: Rule) -> Inputs:
    plan, reviews = case.newest.plan, [item.review for item in case.newest.sets]
    if plan is None:
        return ()
    found, short = [], Counter[str]()
    for done, review in zip(compare_with_plan(plan, reviews), reviews, strict=False):
        below = count_reps_below(plan, review)
        for target in done.targets:
            short[target.name] += below.get(target.name, 0)
            code = (
                "target-below"
                if target.call == "below"
                else "target-probably-below"
                if is_probably_below(target)
                else "target-not-measured"
                if target.done is None
                else None
            )
            if code is not None:
                found.append(Message(code, {"set": done.number, "target": target.name}))
    least = case.rules.form.reps_least
    found += [Message("reps-below", {"count": n, "target": name}) for name, n in short.items() if n >= least]
    return found


def _under_target(case: _Case, _rule: Rule) -> Inputs:
    found = []
    for number, planned, item in list_planned_sets(case.newest):
        if item is None:
            found.append(Message("set-not-recorded", {"set": number}))
        elif (count_reps_over(planned, item.review) or 0) < 0:
            found.append(_describe_set(number, item, planned))
    return found


def _far_under_target(case: _Case, rule: Rule) -> Inputs:
    done = wanted = 0
    code = "session-short"
    for _, planned, item in list_planned_sets(case.newest):
        counted = None if item is None else count_planned_reps(planned, item.review)
        if counted is not None:
            done, wanted = done + counted, wanted + planned.reps_low
            code = "session-short-each-side" if planned.each_side else code
    return [Message(code, {"done": done, "planned": wanted})] if done < rule.share * wanted else ()


def _stalled(case: _Case, rule: Rule) -> Inputs:
    some = case.sessions[-rule.sessions :]
    loads = {read_loads(session) for session in some}
    if len(some) < rule.sessions or len(loads) > 1 or None in loads or _reached_top(case.newest):
        return ()
    reps = [sum(item.review.complete_reps for item in session.sets) for session in some]
    if not list_planned_sets(case.newest) or reps[-1] > reps[0]:
        return ()
    days = [session.day.isoformat() for session in some]
    return [Message("session-done", {"day": day, "done": count}) for day, count in zip(days, reps, strict=True)]


def _stalled_and_harder(case: _Case, rule: Rule) -> Inputs:
    found = _stalled(case, rule)
    some = case.sessions[-rule.sessions :]
    efforts = [_mean([item.note.effort for item in session.sets if item.note]) for session in some]
    left = [_mean([item.note.reps_in_reserve for item in session.sets if item.note]) for session in some]
    return [*found, Message("got-harder")] if found and (_rises(efforts) or _rises(left[::-1])) else ()


def _nothing_left(case: _Case, _rule: Rule) -> Inputs:
    left = [(number, item.reps_left) for number, item in enumerate(case.newest.sets, 1)]
    return [Message("nothing-left", {"set": number}) for number, value in left if value is not None and value < 1]


def _load_jumped(case: _Case, rule: Rule) -> Inputs:
    if len(case.sessions) < 2:
        return ()
    loads = ([item.review.set_info.load_kg for item in session.sets] for session in case.sessions[-2:])
    before, now = (max((load for load in some if load is not None), default=None) for some in loads)
    if not before or now is None or now <= before * (1 + rule.jump_percent / 100):
        return ()
    return [Message("load-jumped", {"before": before, "now": now})]


def _over_target(case: _Case, rule: Rule) -> Inputs:
    some = case.sessions[-rule.sessions :]
    if len(some) < rule.sessions or any(find_poor_clip(session, case.rules) for session in some):
        return ()
    found, loads = [], set()
    for session in some:
        # Judged on the last set planned: one added at will has no target, one left out was not reached.
        number = len(session.plan.sets) if session.plan is not None else len(session.sets)
        if number > len(session.sets):
            return ()
        item = session.sets[number - 1]
        planned = get_planned_set(session.plan, number, item.review.set_info)
        over = None if planned is None else count_reps_over(planned, item.review)
        if over is None or over < rule.reps_over:
            return ()
        loads.add(item.review.set_info.load_kg)
        found.append(_describe_set(number, item, planned, session.day))
    return found if len(loads) == 1 and None not in loads else ()


def _top_of_range(case: _Case, rule: Rule) -> Inputs:
    newest = case.newest
    some = case.sessions[-rule.sessions :]
    if len(some) < rule.sessions or not _reached_top(newest) or read_loads(newest) is None:
        return ()
    planned = [planned for _, planned, _ in list_planned_sets(newest)]
    tops = [str(item.reps_high) for item in planned]
    known: dict[str, MessageValue] = {"day": newest.day.isoformat()}
    known["top"] = tops[0] if len(set(tops)) == 1 else "/".join(tops)
    ranged = any(item.reps_low < item.reps_high for item in planned)
    left = _least_left(newest)
    if ranged and left is not None and left >= rule.reserve_least:
        return [Message("top-reached", known | {"left": left})]
    if any(not _reached_top(session) or find_poor_clip(session, case.rules) for session in some):
        return ()
    if len({read_loads(session) for session in some}) > 1:
        return ()
    lefts = [_least_left(session) for session in some]
    # Without a range of reps the lifter stops at the planned number: only what was left shows that there is more.
    if not ranged and any(value is None or value < rule.reserve_least for value in lefts):
        return ()
    return [Message("top-reached-twice", known)]


def _always(case: _Case, _rule: Rule) -> Inputs:
    return [
        _describe_set(number, item, get_planned_set(case.newest.plan, number, item.review.set_info))
        for number, item in enumerate(case.newest.sets, 1)
    ]


_CONDITIONS: dict[When, Callable[[_Case, Rule], Inputs]] = {
    "pain_noted": lambda case, _rule: find_pain(case.newest.noted),
    "form_lost": _form_lost,
    "far_under_target": _far_under_target,
    "stalled_and_harder": _stalled_and_harder,
    "pain_recently": lambda case, _rule: case.pain_lately,
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


def _describe_set(number: int, item: TrainedSet, planned: PlannedSet | None, day: date | None = None) -> Message:
    counts = count_by_either_side(item.review.reps) if planned is not None and planned.each_side else None
    done = item.review.complete_reps if counts is None else write_by_side(counts, " and ")
    known: dict[str, MessageValue] = {"set": number, "done": done, "planned": planned.reps if planned else ""}
    return Message("set-done", known) if day is None else Message("set-done-on", known | {"day": day.isoformat()})


def list_planned_sets(session: TrainedSession) -> list[tuple[int, PlannedSet, TrainedSet | None]]:
    """Number, plan and set of every set that was planned; None for one that is not recorded."""
    count = max(len(session.sets), len(session.plan.sets) if session.plan is not None else 0)
    found = []
    for number in range(1, count + 1):
        item = session.sets[number - 1] if number <= len(session.sets) else None
        planned = get_planned_set(session.plan, number, SetInfo() if item is None else item.review.set_info)
        if planned is not None:
            found.append((number, planned, item))
    return found


def _reached_top(session: TrainedSession) -> bool:
    planned = list_planned_sets(session)
    done = [None if item is None else count_planned_reps(wanted, item.review) for _, wanted, item in planned]
    tops = [wanted.reps_high for _, wanted, _ in planned]
    return bool(done) and all(reps is not None and reps >= top for reps, top in zip(done, tops, strict=True))


def read_loads(session: TrainedSession) -> tuple[float, ...] | None:
    """The loads of the planned sets; None when one of them is not known."""
    loads = [item.review.set_info.load_kg for _, _, item in list_planned_sets(session) if item is not None]
    known = tuple(load for load in loads if load is not None)
    return known if loads and len(known) == len(loads) else None


def _least_left(session: TrainedSession) -> float | None:
    """The least left of the planned sets; None when nothing was noted of the last of them."""
    left = [item.reps_left for _, _, item in list_planned_sets(session) if item is not None]
    known = [value for value in left if value is not None]
    return min(known) if left and left[-1] is not None else None


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return fmean(known) if known else None


def _rises(values: Sequence[float | None]) -> bool:
    """Whether a value noted in every session never falls and rises by 1 and more."""
    known = [value for value in values if value is not None]
    return len(known) == len(values) and known == sorted(known) and known[-1] - known[0] >= 1


def find_poor_clip(session: TrainedSession, rules: Rules) -> Message | None:
    """Why a session was filmed too poorly to be advised upon; None where it was not."""
    for number, item in enumerate(session.sets, 1):
        review = item.review
        if review.quality.problems:
            return Message("clip-problem", {"set": number, "problem": review.quality.problems[0].code})
        if not review.reps:
            return Message("no-reps", {"set": number})
        if review.quality.tracked_share < rules.quality.tracked_share_least:
            return Message("rarely-found", {"set": number, "share": review.quality.tracked_share})
        asked = [item for item in review.measures if item.name in (*RANGE_MEASURES, *rules.form.range)]
        measured = {item.rep for item in asked if item.value is not None}
        if asked and len(measured) < rules.quality.range_measured_least * len(review.reps):
            return Message("range-not-measured", {"set": number})
    return None


# ---------------------------------------------------------------- the advice in words


def _advise_by(rule: Rule, case: _Case, inputs: Inputs) -> Advice:
    newest = case.newest
    load = newest.sets[-1].review.set_info.load_kg
    low = high = None
    if load and rule.load_low_percent is not None and rule.load_high_percent is not None:
        low, high = (load * (1 + part / 100) for part in (rule.load_low_percent, rule.load_high_percent))
    values = {"where": _write_pain_places(newest), "load": _write_load(load, low, high, newest)}
    values |= {"reps": str(rule.reps_over), "sessions": _COUNTS.get(rule.sessions, str(rule.sessions))}
    text = rule.text_without_load if load == 0 and rule.text_without_load is not None else rule.text
    stop = rule.kind == "stop"
    doubt = (
        () if stop else (*(() if rule.when == "pain_recently" else case.pain_lately), *_find_doubts(newest, case.rules))
    )
    return Advice(
        rule.kind,
        rule.id,
        text.format(**values),
        tuple(map(describe, inputs)),
        (rule.doubt, *map(describe, doubt)),
        load_references()[rule.source].text,
        low,
        high,
        "" if stop else load_cautions()["stop-signs"].text,
    )


_COUNTS = {1: "one", 2: "two", 3: "three", 4: "four"}


def _find_doubts(session: TrainedSession, rules: Rules) -> list[Message]:
    """What the advice does not know."""
    found = []
    measures = [item for part in session.sets for item in part.review.measures]
    for names, code in ((rules.form.range, "range-unseen"), (rules.form.torso, "torso-unseen")):
        asked = [item for item in measures if item.name in names]
        if asked and all(item.value is None for item in asked):
            found.append(Message(code, {"reason": asked[0].missing_reason or "not measured."}))
    left = [part.reps_left for part in session.sets if part.reps_left is not None]
    counted = [count_planned_reps(wanted, part.review) for _, wanted, part in list_planned_sets(session) if part]
    known = (
        ("sides-not-told", None in counted),
        ("load-not-known", all(part.review.set_info.load_kg is None for part in session.sets)),
        ("pain-not-asked", all(part.note is None or part.note.pain is None for part in session.sets)),
        ("nothing-in-reserve", bool(left) and min(left) < 1),
        ("by-hand", any(part.review.by_hand for part in session.sets)),
    )
    return found + [Message(code) for code, holds in known if holds]


def _write_pain_places(session: TrainedSession) -> str:
    notes = [item.note for item in session.sets if item.note is not None]
    places = list(dict.fromkeys(note.pain_where for note in notes if note.pain and note.pain_where))
    return f" ({', '.join(places)})" if places else ""


def _write_load(load: float | None, low: float | None, high: float | None, session: TrainedSession) -> str:
    if load is None or low is None or high is None:
        return ""
    last = "last set: " if len({item.review.set_info.load_kg for item in session.sets}) > 1 else ""
    if low == high:
        return f" ({last}{write_kg(load)} kg)"
    return f" ({last}from {write_kg(load)} kg to between {write_kg(low)} and {write_kg(high)} kg)"
