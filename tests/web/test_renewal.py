"""A review of an earlier formcheck, made anew from the page."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from unittest.mock import patch

from streamlit.testing.v1 import AppTest

from formcheck.core.model import MEASURES_VERSION, Analysis
from formcheck.services.stored_analysis import renew
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from tests.facts import says
from tests.web.synthetic import synthetic_analysis
from tests.web.test_pages import read_page


def make_earlier() -> Analysis:
    """An analysis as a formcheck without grades stored it."""
    analysis = synthetic_analysis()
    found = tuple(replace(one, grade=None, probability=None, margin=None) for one in analysis.review.findings)
    review = replace(analysis.review, findings=found, points=(), measures_version=MEASURES_VERSION - 1)
    return replace(analysis, review=review)


def list_buttons(page: AppTest) -> list[str]:
    return [button.key for button in page.button]


def test_a_review_of_an_earlier_formcheck_is_made_anew_by_a_button(
    store_review: Callable[..., int], open_page: Callable[..., AppTest]
) -> None:
    number = store_review(make_earlier())
    page = open_page(review=str(number))
    assert says(read_page(page), "an earlier version of formcheck made this review")
    page.button(key="renew").click().run()
    assert not page.exception
    assert not page.error
    assert "renew" not in list_buttons(page)
    assert not says(read_page(page), "an earlier version of formcheck made this review")
    with Store.open(default_store()) as store:
        assert store.load_review(number).points
        assert store.load_review(number).measures_version == MEASURES_VERSION
        assert not store.load_original(number).points


def test_a_review_without_body_points_stays_as_it_is(
    store_review: Callable[..., int], open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    number = store_review(make_earlier())
    DataFolder(formcheck_home).artifacts(number).recording.unlink()
    page = open_page(review=str(number))
    assert says(read_page(page), "no longer kept, so it stays as it is")
    assert "renew" not in list_buttons(page)


def test_chosen_reviews_of_an_earlier_formcheck_are_made_anew_from_the_list(
    store_review: Callable[..., int], open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    first, without_points, newest = (store_review(make_earlier()) for _ in range(3))
    DataFolder(formcheck_home).artifacts(without_points).recording.unlink()
    with Store.open(default_store()) as store:
        renew(store, newest, formcheck_home, created_at=datetime.now(UTC))
        kept = [store.load_review(number) for number in (without_points, newest)]
    page = open_page().switch_page("formcheck/web/pages/reviewed_sets.py").run()
    assert 'data-do="renew"' in read_page(page)
    # What the list's script sends from the browser; a set that is not listed is left out.
    sent = iter([{"do": "renew", "sets": [first, without_points, newest, 99]}])
    with patch("formcheck.web.components.assets.mount_actions", lambda *_: next(sent, None)):
        page.run()
    assert not page.exception
    assert "1 review made anew" in page.success[0].value
    assert f"Review {without_points} stays as it is" in page.warning[0].value
    with Store.open(default_store()) as store:
        assert store.load_review(first).points
        assert not store.load_original(first).points
        assert [store.load_review(number) for number in (without_points, newest)] == kept


def test_a_list_without_earlier_reviews_offers_nothing_to_make_anew(
    store_review: Callable[..., int], open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    number = store_review(make_earlier())
    with Store.open(default_store()) as store:
        renew(store, number, formcheck_home, created_at=datetime.now(UTC))
    page = open_page().switch_page("formcheck/web/pages/reviewed_sets.py").run()
    assert 'data-do="renew"' not in read_page(page)
