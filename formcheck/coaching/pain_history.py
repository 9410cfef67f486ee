"""Pain as it was noted over the sessions of all exercises, and which of it concerns an exercise.

Pain concerns every exercise that loads the same joint: a joint of the exercise it was noted in, or one it was noted at.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from formcheck.coaching.note import SetNote
from formcheck.coaching.pain_words import find_joints_named, find_pain_words
from formcheck.core.model import Message, MessageValue
from formcheck.exercises.registry import list_joints, load_exercises
from formcheck.exercises.variations import SEPARATOR


@dataclass(frozen=True, slots=True)
class NotedSession:
    """What was noted of the sets of one exercise on one day: all that the advice for another exercise asks of it."""

    day: date
    exercise_id: str
    notes: tuple[SetNote | None, ...]
    """Of each set in its order; None where nothing was noted."""


def mentions_pain(note: SetNote | None) -> bool:
    """Whether a note counts as pain: said so, or by the words of its remark as long as the question is not answered."""
    if note is None or note.pain is False:
        return False
    return bool(note.pain) or bool(find_pain_words(note.remark))


def find_pain(session: NotedSession, *, elsewhere: bool = False) -> tuple[Message, ...]:
    """A message for each set of a session whose note counts as pain.

    Parameters
    ----------
    elsewhere : name the exercise, because the advice is for another one.
    """
    found = []
    for number, note in enumerate(session.notes, 1):
        if note is None or not mentions_pain(note):
            continue
        exercise = _read_name(session.exercise_id) if elsewhere else ""
        known: dict[str, MessageValue] = {"exercise": exercise, "set": number, "day": session.day.isoformat()}
        if note.pain:
            found.append(Message("pain-noted", known | {"where": note.pain_where or ""}))
        else:
            found.append(Message("pain-in-remark", known | {"words": ", ".join(find_pain_words(note.remark))}))
    return tuple(found)


def list_newest_sessions(sessions: Iterable[NotedSession], count: int) -> list[NotedSession]:
    """The newest sessions of each exercise, in the order of their days."""
    by_exercise: dict[str, list[NotedSession]] = {}
    for session in sorted(sessions, key=lambda item: item.day):
        by_exercise.setdefault(session.exercise_id, []).append(session)
    return sorted((one for some in by_exercise.values() for one in some[-count:]), key=lambda item: item.day)


def loads_painful_joint(session: NotedSession, exercise_id: str) -> bool:
    """Whether pain noted in a session would be pain of a joint that an exercise loads."""
    places = " ".join(note.pain_where or note.remark or "" for note in session.notes if note is not None)
    return bool((list_joints(session.exercise_id) | find_joints_named(places)) & list_joints(exercise_id))


def find_pain_elsewhere(sessions: Sequence[NotedSession], exercise_id: str, count: int) -> tuple[Message, ...]:
    """Pain in the newest `count` sessions of each other exercise that loads a joint of this one."""
    return tuple(
        message
        for session in list_newest_sessions(sessions, count)
        if session.exercise_id != exercise_id and loads_painful_joint(session, exercise_id)
        for message in find_pain(session, elsewhere=True)
    )


def _read_name(exercise_id: str) -> str:
    found = load_exercises().get(exercise_id.partition(SEPARATOR)[0])
    return found.name.lower() if found is not None else exercise_id
