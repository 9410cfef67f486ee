"""Which exercise a recording probably shows; the user decides."""

from formcheck.suggestion.other_exercise import name_other_exercise
from formcheck.suggestion.suggest import CONFIDENT, Suggestion, suggest

__all__ = ["CONFIDENT", "Suggestion", "name_other_exercise", "suggest"]
