"""Page: review a set - choose a clip, follow the work, read the result."""

from formcheck.page import frame, progress, result, start
from formcheck.page.state import page_state, take_address


def main() -> None:
    """Show the step the visitor is at."""
    take_address()
    state = page_state()
    with frame.told():
        if state.review_id is not None:
            result.show(state.review_id)
        elif state.job_id is not None:
            progress.show(state.job_id)
        else:
            start.show()


main()
