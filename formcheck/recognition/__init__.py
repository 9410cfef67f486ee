"""Which exercise a recording probably shows; the user decides."""

from formcheck.recognition.other_exercise import name_other_exercise
from formcheck.recognition.suggest import CONFIDENT, Suggestion, suggest

__all__ = ["CONFIDENT", "Suggestion", "name_other_exercise", "suggest"]
