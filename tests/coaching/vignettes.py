"""The invented cases of ``vignettes.toml``: sessions in, the right kind of advice out, read strictly."""

import tomllib
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from formcheck.coaching.advice import TrainedSession, TrainedSet
from formcheck.coaching.note import SetNote
from formcheck.coaching.pain_history import NotedSession
from formcheck.coaching.plan import parse_plan
from tests.statistics.sets import TEMPO, a_set

Answer = Literal["stop", "back_off", "ease", "hold", "raise", "none"]
Bar = Literal["pain", "form", "short", "filming", "effort"]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PastSession(_Strict):
    """One session of one exercise, as the head of ``vignettes.toml`` describes its keys."""

    days_ago: Annotated[int, Field(ge=0)]
    reps: Annotated[tuple[int, ...], Field(min_length=1)]
    exercise: str | None = None
    partial: int = 0
    load: float | None = None
    reserve: float | None = None
    effort: float | None = None
    pain: bool | None = None
    where: str | None = None
    remark: str | None = None
    remarks: tuple[str, ...] = ()
    not_met: dict[str, int] = {}
    not_met_sets: tuple[dict[str, int], ...] = ()
    range: float = 85.0
    lowering: float | None = None
    tracked: float = 1.0
    damaged: int | None = None


class Vignette(_Strict):
    """One case with its answer."""

    id: str
    exercise: str
    history: Annotated[tuple[PastSession, ...], Field(min_length=1)]
    answer: Annotated[tuple[Answer, ...], Field(min_length=1, max_length=2)]
    reason: str
    source: str
    plan: str | None = None
    bars: Bar | None = None


class _File(_Strict):
    vignettes: tuple[Vignette, ...]


def load_vignettes() -> tuple[Vignette, ...]:
    """All cases in their order; pydantic's ValidationError for anything not in the format."""
    text = Path(__file__).with_name("vignettes.toml").read_text(encoding="utf-8")
    return _File.model_validate(tomllib.loads(text)).vignettes


_TODAY = date(2026, 6, 30)


def history_of(case: Vignette) -> tuple[list[TrainedSession], list[NotedSession]]:
    """The sessions of the case's exercise, and what was noted in those of its other exercises."""
    plan = None if case.plan is None else parse_plan(case.plan)
    own, others = [], []
    for told in case.history:
        sets = tuple(_set(told, number, told.exercise or case.exercise) for number in range(len(told.reps)))
        session = TrainedSession(_TODAY - timedelta(days=told.days_ago), sets, plan)
        if told.exercise in (None, case.exercise):
            own.append(session)
        else:
            others.append(session.noted)
    return own, others


def _set(told: PastSession, number: int, exercise: str) -> TrainedSet:
    last = number == len(told.reps) - 1
    not_met = told.not_met_sets[number] if told.not_met_sets else told.not_met if last else {}
    review = a_set(
        0 if told.damaged == number + 1 else told.reps[number],
        partial=told.partial if last else 0,
        load=told.load,
        range_deg=told.range,
        tracked=told.tracked,
        tempo=TEMPO if told.lowering is None else replace(TEMPO, eccentric_s=told.lowering),
        not_met=not_met,
        exercise=exercise,
    )
    remark = told.remarks[number] if told.remarks else told.remark if last else None
    pain, where = (told.pain, told.where) if last else (None, None)
    note = SetNote(told.reserve, told.effort, pain, where, remark=remark)
    return TrainedSet(review, None if note == SetNote() else note)
