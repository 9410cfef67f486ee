"""Advice for the next session, never an order: the trade's rules as data, each with its inputs and its doubt.

The rules stand in ``advice.toml``. Pain noted gives nothing but "stop and have it looked at"; a session that was
filmed poorly gives no advice at all.
"""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from formcheck.exercises.registry import references
from formcheck.model import Review
from formcheck.training.done import RANGE_MEASURES, planned_set, reps_over
from formcheck.training.note import SetNote
from formcheck.training.plan import Plan, PlannedSet

Kind = Literal["stop", "back_off", "raise", "hold", "none"]
When = Literal["pain_noted", "form_lost", "over_target_in_last_set", "under_target", "always"]


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


class _Data(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class _Quality(_Data):
    tracked_share_least: Annotated[float, Field(ge=0, le=1)]
    range_measured_least: Annotated[float, Field(ge=0, le=1)]


class _Form(_Data):
    range: Annotated[tuple[str, ...], Field(strict=False)]
    torso: Annotated[tuple[str, ...], Field(strict=False)]
    reps_least: Annotated[int, Field(ge=1)]


class Rule(_Data):
    """One rule of the trade."""

    id: str
    when: When
    kind: Kind
    text: str
    doubt: str
    source: str
    load_low_percent: float | None = None
    load_high_percent: float | None = None
    reps_over: Annotated[int, Field(ge=1)] = 2
    sessions: Annotated[int, Field(ge=1)] = 2


class Rules(_Data):
    """Everything in ``advice.toml``."""

    quality: _Quality
    form: _Form
    rules: Annotated[tuple[Rule, ...], Field(strict=False, min_length=1)]


@cache
def shipped_rules() -> Rules:
    """The rules as shipped."""
    text = Path(__file__).with_name("advice.toml").read_text(encoding="utf-8")
    return Rules.model_validate(tomllib.loads(text))


def advise(sessions: Sequence[TrainedSession], rules: Rules | None = None) -> Advice:
    """The first rule that applies to the newest session.

    Parameters
    ----------
    sessions : of one client and exercise, the oldest first; those without sets are passed over.
    """
    rules = rules or shipped_rules()
    done = [session for session in sessions if session.sets]
    if not done:
        return Advice("none", "no-session", "No advice: no session of this exercise is stored yet.", (), (), "")
    newest = done[-1]
    pain = [item.note for item in newest.sets if item.note is not None and item.note.pain]
    reason = None if pain else _too_poor(newest, rules)
    if reason is not None:
        return Advice("none", "poor-quality", f"No advice: {reason}", (), (), "")
    for rule in rules.rules:
        inputs = _CONDITIONS[rule.when](done, rule, rules)
        if inputs is not None:
            return _advice(rule, newest, inputs, rules, where=_where(pain))
    return Advice("none", "no-rule", "No advice: no rule applies to this session.", (), (), "")


# ---------------------------------------------------------------- conditions: what was looked at, or None


def _pain(done: Sequence[TrainedSession], _rule: Rule, _rules: Rules) -> list[str] | None:
    numbers = [str(n) for n, item in enumerate(done[-1].sets, 1) if item.note is not None and item.note.pain]
    return [f"Pain was noted in set {' and set '.join(numbers)} on {done[-1].day:%Y-%m-%d}."] if numbers else None


def _form_lost(done: Sequence[TrainedSession], _rule: Rule, rules: Rules) -> list[str] | None:
    told = []
    for number, item in enumerate(done[-1].sets, 1):
        for finding in item.review.findings:
            of_form = finding.measure in (*rules.form.range, *rules.form.torso)
            if of_form and finding.verdict == "not_met" and len(finding.reps) >= rules.form.reps_least:
                what = "range was lost" if finding.measure in rules.form.range else "the torso moved"
                told.append(f"Set {number}: {what} in {len(finding.reps)} of {len(item.review.reps)} reps.")
    return told or None


def _over_target(done: Sequence[TrainedSession], rule: Rule, _rules: Rules) -> list[str] | None:
    if len(done) < rule.sessions:
        return None
    told, loads = [], set()
    for session in done[-rule.sessions :]:
        # Judged on the last set planned: one added at will has no target, one left out was not reached.
        number = len(session.plan.sets) if session.plan is not None else len(session.sets)
        if number > len(session.sets):
            return None
        review = session.sets[number - 1].review
        planned = planned_set(session.plan, number, review.set_info.target_reps)
        if planned is None or reps_over(planned, _complete(review)) < rule.reps_over:
            return None
        loads.add(review.set_info.load_kg)
        told.append(f"{session.day:%Y-%m-%d}, set {number}: {_complete(review)} reps for {_target(planned)} planned.")
    return told if len(loads) == 1 else None


def _under_target(done: Sequence[TrainedSession], _rule: Rule, _rules: Rules) -> list[str] | None:
    told = []
    for number, item in enumerate(done[-1].sets, 1):
        planned = planned_set(done[-1].plan, number, item.review.set_info.target_reps)
        if planned is not None and reps_over(planned, _complete(item.review)) < 0:
            told.append(f"Set {number}: {_complete(item.review)} reps for {_target(planned)} planned.")
    return told or None


def _always(done: Sequence[TrainedSession], _rule: Rule, _rules: Rules) -> list[str] | None:
    told = []
    for number, item in enumerate(done[-1].sets, 1):
        planned = planned_set(done[-1].plan, number, item.review.set_info.target_reps)
        told.append(
            f"Set {number}: {_complete(item.review)} reps{f' for {_target(planned)} planned' if planned else ''}."
        )
    return told


_CONDITIONS: dict[When, Callable[[Sequence[TrainedSession], Rule, Rules], list[str] | None]] = {
    "pain_noted": _pain,
    "form_lost": _form_lost,
    "over_target_in_last_set": _over_target,
    "under_target": _under_target,
    "always": _always,
}


# ---------------------------------------------------------------- words


def _too_poor(session: TrainedSession, rules: Rules) -> str | None:
    for number, item in enumerate(session.sets, 1):
        review = item.review
        if not review.reps:
            return f"no reps were found in set {number}, so it cannot be judged."
        if review.quality.tracked_share < rules.quality.tracked_share_least:
            return f"in set {number} the lifter was found in only {review.quality.tracked_share:.0%} of the pictures."
        asked = [item for item in review.measures if item.name in (*RANGE_MEASURES, *rules.form.range)]
        measured = {item.rep for item in asked if item.value is not None}
        if asked and len(measured) < rules.quality.range_measured_least * len(review.reps):
            return f"the range of set {number} could be measured in too few reps from this camera."
    return None


def _advice(rule: Rule, session: TrainedSession, inputs: list[str], rules: Rules, *, where: str) -> Advice:
    load = session.sets[-1].review.set_info.load_kg
    low = high = None
    if load is not None and load > 0 and rule.load_low_percent is not None and rule.load_high_percent is not None:
        low, high = (load * (1 + part / 100) for part in (rule.load_low_percent, rule.load_high_percent))
    values = {"where": where, "load": _load_text(load, low, high)}
    values |= {"reps": str(rule.reps_over), "sessions": _COUNTS.get(rule.sessions, str(rule.sessions))}
    text = rule.text.format(**values)
    doubt = (rule.doubt,) if rule.kind == "stop" else (rule.doubt, *_doubts(session, rules))
    return Advice(rule.kind, rule.id, text, tuple(inputs), doubt, references()[rule.source].text, low, high)


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
    spent = [part.note.reps_in_reserve for part in session.sets if part.note and part.note.reps_in_reserve is not None]
    if spent and min(spent) < 1:
        told.append("A set was noted as having nothing left in reserve.")
    if any(part.review.by_hand for part in session.sets):
        told.append("Some reps were set by hand.")
    return told


def _where(pain: Sequence[SetNote]) -> str:
    places = list(dict.fromkeys(note.pain_where for note in pain if note.pain_where))
    return f" ({', '.join(places)})" if places else ""


def _load_text(load: float | None, low: float | None, high: float | None) -> str:
    if load is None or low is None or high is None:
        return ""
    if low == high:
        return f" ({_kg(load)} kg)"
    return f" (from {_kg(load)} kg to between {_kg(low)} and {_kg(high)} kg)"


def _kg(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _complete(review: Review) -> int:
    return sum(rep.complete for rep in review.reps)


def _target(planned: PlannedSet) -> str:
    low, high = planned.reps_low, planned.reps_high
    return str(low) if low == high else f"{low}-{high}"
