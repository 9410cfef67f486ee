"""Many clips at once: reads a list, reviews what is missing, stores it and reports the outcome of each clip."""

from formcheck.batch.requests import Outcome, Summary
from formcheck.batch.run import BatchRequest, run

__all__ = ["BatchRequest", "Outcome", "Summary", "run"]
