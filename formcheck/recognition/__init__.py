"""Which exercise a recording probably shows; the user decides."""

from formcheck.recognition.suggest import CONFIDENT, Suggestion, suggest

__all__ = ["CONFIDENT", "Suggestion", "suggest"]
