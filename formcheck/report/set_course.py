"""What happened within a set, in sentences that agree with what is judged of its reps."""

from formcheck.core.model import Review
from formcheck.exercises.schema import Exercise
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.words import WORDS
from formcheck.statistics.results import SetCourse


def describe_course(course: SetCourse, review: Review, exercise: Exercise | None = None) -> str:
    """The course in a sentence; where no aspect of form changed, but a point is at fault from a later rep on, that.

    The course looks at range, speed, torso and evenness alone, and at trends; the points at each rep and its limit.
    """
    if course.breakdown is not None or course.notes:
        return course.sentence
    cue = choose_next_cue(review, exercise)
    if cue is None or cue.kind != "change" or cue.from_rep in (None, 1):
        return course.sentence
    return WORDS["course"]["by-point"].format(rep=cue.from_rep, title=cue.title, reps=course.reps)


def list_changes(course: SetCourse) -> list[str]:
    """A sentence for each aspect that changed, but for what the sentence on the course says already."""
    return [item.sentence for item in course.onsets if item.sentence not in course.sentence]
