"""Part of a review: the offer to make one of an earlier formcheck anew from its kept body points."""

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.core.model import MEASURES_VERSION, Review
from formcheck.report.problem_text import is_review_blocked
from formcheck.storage import Store
from formcheck.web.correction.save import save_correction
from formcheck.web.stored_reviews import load_cached_recording


def is_earlier(review: Review) -> bool:
    """Whether an earlier formcheck made it, which read some measures otherwise or knew no grades."""
    if is_review_blocked(review):
        return False
    return review.measures_version < MEASURES_VERSION or bool(review.findings and not review.points)


def show(review_id: int, review: Review) -> None:
    """Say that the review is of an earlier formcheck, with a button that makes it anew; nothing for one of today's."""
    if not is_earlier(review):
        return
    st.info(
        "An earlier version of formcheck made this review. Today’s reads some numbers differently and says how sure "
        "each point is, so the two are never mixed in one trend."
    )
    try:
        load_cached_recording(review_id)
    except FormcheckError:
        st.caption("Its body points are no longer kept, so it stays as it is: review the clip again.")
        return
    about = "From the kept body points, with what was corrected by hand."
    if st.button("Make this review anew", key="renew", help=about):
        with Store.open() as store:
            edits = store.edits_of(review_id)
        save_correction(review_id, edits)
    st.caption("The first one stays retrievable: undo it under “Correct by hand”.")
