"""Pain as it was noted over the sessions of all exercises, and which of it concerns an exercise.

Pain concerns every exercise that loads the same joint: a joint of the exercise it was noted in, or one it was noted at.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from formcheck.coaching.note import SetNote
from formcheck.coaching.pain_words import find_joints_named, find_pain_words
from formcheck.exercises.registry import joints_of, load_exercises
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


def describe_pain(session: NotedSession, *, other: bool = False) -> tuple[str, ...]:
    """One sentence for each set of a session whose note counts as pain.

    Parameters
    ----------
    other : name the exercise, because the advice is for another one.
    """
    told = []
    for number, note in enumerate(session.notes, 1):
        if note is None or not mentions_pain(note):
            continue
        place = f"set {number} on {session.day:%Y-%m-%d}"
        if other:
            place = f"another exercise for the same joint ({_name(session.exercise_id)}) in {place}"
        if note.pain:
            told.append(f"Pain was noted in {place}{f': {note.pain_where}' if note.pain_where else ''}.")
        else:
            words = ", ".join(find_pain_words(note.remark))
            told.append(
                f"The remark in {place} speaks of pain ({words}); if it was none, say in the note of that set that "
                "nothing hurt."
            )
    return tuple(told)


def newest_sessions(sessions: Iterable[NotedSession], count: int) -> list[NotedSession]:
    """The newest sessions of each exercise, in the order of their days."""
    by_exercise: dict[str, list[NotedSession]] = {}
    for session in sorted(sessions, key=lambda item: item.day):
        by_exercise.setdefault(session.exercise_id, []).append(session)
    return sorted((one for some in by_exercise.values() for one in some[-count:]), key=lambda item: item.day)


def loads_painful_joint(session: NotedSession, exercise_id: str) -> bool:
    """Whether pain noted in a session would be pain of a joint that an exercise loads."""
    places = " ".join(note.pain_where or note.remark or "" for note in session.notes if note is not None)
    return bool((joints_of(session.exercise_id) | find_joints_named(places)) & joints_of(exercise_id))


def describe_pain_elsewhere(sessions: Sequence[NotedSession], exercise_id: str, count: int) -> tuple[str, ...]:
    """Sentences on pain in the newest `count` sessions of each other exercise that loads a joint of this one."""
    return tuple(
        sentence
        for session in newest_sessions(sessions, count)
        if session.exercise_id != exercise_id and loads_painful_joint(session, exercise_id)
        for sentence in describe_pain(session, other=True)
    )


def _name(exercise_id: str) -> str:
    found = load_exercises().get(exercise_id.partition(SEPARATOR)[0])
    return found.name.lower() if found is not None else exercise_id
