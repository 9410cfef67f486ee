"""Driver signal to repetitions and their phases."""

from formcheck.reps.find import find_reps

__all__ = ["find_reps"]
