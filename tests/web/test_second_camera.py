"""The page of a set two cameras filmed."""

from collections.abc import Callable

from streamlit.testing.v1 import AppTest

from formcheck.core.model import Analysis
from formcheck.exercises.registry import get_exercise
from formcheck.pairing.pair_review import review_pair
from tests.pairing.sets import Plan, filmed, lateral
from tests.web.test_pages import read_page


def test_a_merged_review_is_shown_and_says_which_camera_a_number_is_from(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    plan = Plan()
    front, side = (filmed(plan, lateral, yaw=yaw, begins=begins) for yaw, begins in ((0.0, 0.0), (90.0, 0.8)))
    merged: Analysis = review_pair(front, side, get_exercise("lateral-raise"))
    page = open_page(review=str(store_review(merged)))
    assert not page.exception
    text = read_page(page)
    assert "Second camera: clip" in text
    assert "began 0.80 s after the first" in text
    assert "(1)" in text
    assert "(2)" in text
