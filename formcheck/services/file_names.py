"""What a file is called that leaves the machine: client, exercise, day."""

from formcheck.storage import StoredReview

_LONGEST = 60
NO_CLIENT = "no-client"


def name_file(row: StoredReview) -> str:
    """``mira-holt_lateral-raise_2026-11-23`` of a stored set, with ``_set-2`` behind for a later one of the day."""
    later = f"_set-{row.set_number}" if row.set_number > 1 else ""
    return f"{make_part(row.client or '') or NO_CLIENT}_{make_part(row.exercise_id)}_{row.session_on:%Y-%m-%d}{later}"


def make_part(text: str) -> str:
    """Letters and digits in lower case with hyphens between, which every file system takes; may be empty."""
    words = "".join(char if char.isalnum() else " " for char in text.casefold()).split()
    return "-".join(words)[:_LONGEST].rstrip("-")
