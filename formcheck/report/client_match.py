"""Whether two stored sets are of one person, and what is said where they are not, or where nobody knows."""

from formcheck.storage import StoredReview


def same_session(before: StoredReview, after: StoredReview) -> bool:
    """Whether one client did both sets on one day; sets without a client are each their own."""
    known = before.client_id is not None
    return known and (before.client_id, before.session_on) == (after.client_id, after.session_on)


def people_note(before: StoredReview, after: StoredReview) -> str:
    """One sentence where two sets are, or may be, of two people; empty for one client and for one set."""
    if before.id == after.id or before.clip_sha256 == after.clip_sha256:
        return ""
    if before.client_id is None and after.client_id is None:
        return (
            "Neither set has a client, so they may be of two people: what differs is then no change of anybody. "
            "Say whose sets they are to compare them as one person's."
        )
    if before.client_id != after.client_id:
        names = [row.client or "no client" for row in (before, after)]
        return (
            f"These sets are of two people ({names[0]} and {names[1]}): what differs between them is no change of "
            "either."
        )
    return ""
