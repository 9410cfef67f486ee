"""Many clips at once: read what is wanted, do what is missing, keep it, tell what became of each clip."""

from formcheck.batch.requests import Outcome, Summary
from formcheck.batch.run import BatchRequest, run

__all__ = ["BatchRequest", "Outcome", "Summary", "run"]
