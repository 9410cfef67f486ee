"""The codes of what a review says, with the parameters each has; the words are in `formcheck.review_text`."""

from collections.abc import Mapping
from dataclasses import dataclass

from formcheck.core.vocabulary import read_table


@dataclass(frozen=True, slots=True)
class MessageTerm:
    """One code.

    Parameters
    ----------
    code : lower-case words joined by hyphens; published in the review document, never renamed.
    meaning : what it says, for the documentation.
    parameters : names of its parameters.
    """

    code: str
    meaning: str
    parameters: tuple[str, ...] = ()


def _read_terms(name: str) -> Mapping[str, MessageTerm]:
    """Code → term of one part of the table."""
    rows = _TABLE[name].items()
    return {code: MessageTerm(code, row["meaning"], tuple(row.get("parameters", ()))) for code, row in rows}


_TABLE = read_table("messages")
MISSING, FINDINGS, NOTES = _read_terms("missing"), _read_terms("findings"), _read_terms("notes")
"""Why a measure has no value; what a finding says; what limits a clip."""
UNLIKE, CORRECTIONS = _read_terms("unlike"), _read_terms("corrections")
"""Why a movement is no repetition of the exercise; what a person corrected."""
NOT_SEEN = "not-seen"
"""Why repetitions have no number where their measures' reasons differ: the body was hidden or out of the picture."""
