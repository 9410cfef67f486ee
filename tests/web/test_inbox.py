"""The list of reviewed sets: what a row says, sorting and filtering, done and deleted, the way from set to set."""

import base64
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.services.thumbnail import SIZE, load_thumbnail
from formcheck.storage import Store, StoredReview
from formcheck.storage.data_folder import DataFolder, default_store
from formcheck.web.inbox.rows import describe_outcome, is_shown, sort_rows
from tests.web.browser_kit import WIDE, assert_page_passes, served, settled
from tests.web.many_sets import fill_store, picture
from tests.web.synthetic import synthetic_analysis
from tests.web.test_pages import read_page

LIST = "formcheck/web/pages/reviewed_sets.py"


def listed(page: AppTest) -> list[int]:
    """The reviews in their order on the page."""
    return [int(number) for number in dict.fromkeys(re.findall(r'data-set="(\d+)"', read_page(page)))]


def row_of(**given: Any) -> StoredReview:
    """A row of the store."""
    with Store.open(default_store()) as store:
        store.save_review(synthetic_analysis().review, created_at=datetime(2026, 11, 25, 12, tzinfo=UTC))
        return replace(store.list_reviews()[0], **given)


def test_the_list_shows_the_newest_first_with_outcome_and_cue(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    first = store_review()
    whole = synthetic_analysis()
    clip = replace(whole.review.clip, name="<b>two</b>.mp4")
    second = store_review(replace(whole, review=replace(whole.review, clip=clip)))
    page = open_page().switch_page(LIST).run()
    assert not page.exception
    assert listed(page) == [second, first]
    text = read_page(page)
    assert "&lt;b&gt;two&lt;/b&gt;.mp4" in text
    assert all(words in text for words in ("6 reps · 8 kg", "1 to change", ">new<", "25 Nov 2026"))
    assert "Lift until the hands are as high as the shoulders." in text


def test_reps_that_were_broken_off_are_counted_apart(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    made = synthetic_analysis()
    reps = tuple(replace(rep, complete=rep.number < 5) for rep in made.review.reps)
    store_review(replace(made, review=replace(made.review, reps=reps)))
    assert "4 reps + 2 partial · 8 kg" in read_page(open_page().switch_page(LIST).run())


def test_a_set_is_found_by_a_part_of_a_name(formcheck_home: Path, open_page: Callable[..., AppTest]) -> None:
    fill_store(formcheck_home, 8)
    page = open_page().switch_page(LIST).run()
    page.text_input(key="set_sought").set_value("NORA").run()
    assert listed(page) == [5, 1]
    page.text_input(key="set_sought").set_value("no such name").run()
    assert listed(page) == []
    assert "in its name" in page.info[0].value


def test_only_sets_still_to_do_are_listed_unless_others_are_asked_for(
    formcheck_home: Path, open_page: Callable[..., AppTest]
) -> None:
    fill_store(formcheck_home, 5)
    now = datetime.now(UTC)
    with Store.open() as store:
        store.mark_reviews([5], seen_at=now, done_at=now)
        store.mark_reviews([4], seen_at=now)
        store.mark_reviews([3], deletion_at=now)
    page = open_page().switch_page(LIST).run()
    assert listed(page) == [4, 2, 1]
    expected = {"new": [2, 1], "done": [5], "all": [5, 4, 2, 1]}
    for shown, numbers in expected.items():
        page.segmented_control(key="set_shown").set_value(shown).run()
        assert listed(page) == numbers
    page.button(key="undo_deletion").click().run()
    assert listed(page) == [5, 4, 3, 2, 1]


def test_a_deletion_that_is_not_undone_is_carried_out(formcheck_home: Path, open_page: Callable[..., AppTest]) -> None:
    fill_store(formcheck_home, 2)
    with Store.open() as store:
        store.mark_reviews([1], deletion_at=datetime.now(UTC) - timedelta(seconds=11))
    page = open_page().switch_page(LIST).run()
    assert not page.exception
    assert "1 set deleted" in page.success[0].value.replace("\\", "")
    with Store.open() as store:
        assert [row.id for row in store.list_reviews()] == [2]
    assert not DataFolder(formcheck_home).artifacts(1).folder.exists()


def test_the_way_goes_from_set_to_set_in_the_order_of_the_list(
    formcheck_home: Path, open_page: Callable[..., AppTest]
) -> None:
    fill_store(formcheck_home, 4)
    page = open_page(review="4")
    assert "1 of 4" in read_page(page)
    assert page.button(key="set_before").disabled
    page.button(key="set_after").click().run()
    assert page.query_params["review"] in ("3", ["3"])
    page.button(key="set_done").click().run()
    assert "3 of 4" in read_page(page)
    page.button(key="set_before").click().run()
    assert page.button(key="set_done").label == "Not done"
    page.button(key="set_done").click().run()
    with Store.open() as store:
        rows = {row.id: (row.seen_at is not None, row.done_at is not None) for row in store.list_reviews()}
    assert rows == {4: (True, False), 3: (True, False), 2: (True, False), 1: (False, False)}


def test_after_the_last_set_comes_the_list(formcheck_home: Path, open_page: Callable[..., AppTest]) -> None:
    fill_store(formcheck_home, 1)
    page = open_page(review="1")
    page.button(key="set_done").click().run()
    assert not page.exception
    assert "last set" in page.success[0].value
    assert "There is no set of this kind" in page.info[0].value.replace("\\", "")


@pytest.mark.parametrize(
    ("given", "mark", "words"),
    [
        ({"not_met": 3, "probably_not_met": 1}, "not_met", "3 to change"),
        ({"not_met": 2, "probably_not_met": 2}, "probably_not_met", "2 probably to change"),
        ({"not_met": 0, "met": 2, "probably_met": 1}, "met", "nothing to change"),
        ({"not_met": 0, "met": 2, "probably_met": 2}, "probably_met", "nothing to change"),
        ({"not_met": 0, "met": 0, "too_close": 1}, "close", "too close to call"),
        ({"not_met": 0, "met": 0}, "unseen", "nothing could be judged"),
        # Of fewer than half of the points, as where nothing is praised.
        ({"not_met": 0, "met": 2, "too_close": 1, "undecided": 5}, "unseen", "too little seen"),
        ({"not_met": 0, "met": 2, "too_close": 2, "undecided": 5}, "met", "nothing to change"),
        ({"problems": "nobody-found", "not_met": 2}, "noted", "Nobody found"),
        # Of a set that was seen in part nobody knows that there is nothing to change.
        ({"problems": "sides-swapped", "not_met": 0}, "noted", "Left and right mixed up"),
        ({"problems": "sides-swapped", "not_met": 1}, "not_met", "1 to change"),
    ],
)
def test_a_row_says_the_gravest_thing(formcheck_home: Path, given: dict[str, Any], mark: str, words: str) -> None:
    outcome = describe_outcome(row_of(**{"probably_not_met": 0, **given}))
    assert (outcome.mark, outcome.words) == (mark, words)


def test_rows_are_sorted_with_equal_ones_newest_first(formcheck_home: Path) -> None:
    fill_store(formcheck_home, 6)
    with Store.open() as store:
        store.mark_reviews([6], seen_at=datetime.now(UTC))
        rows = store.list_reviews()
    assert [row.id for row in sort_rows(rows, "day", backwards=False)] == [1, 2, 3, 4, 5, 6]
    # Ida, Nora, Tom, then sets without a client
    assert [row.id for row in sort_rows(rows, "client", backwards=False)] == [4, 5, 1, 6, 2, 3]
    assert [row.id for row in sort_rows(rows, "state", backwards=False)] == [5, 4, 3, 2, 1, 6]
    # what looks like another exercise, what is to change, what is fine
    assert [row.id for row in sort_rows(rows, "outcome", backwards=False)] == [5, 6, 3, 2, 1, 4]
    assert not is_shown(replace(rows[0], deletion_at=datetime.now(UTC)), "all")


def test_a_thumbnail_is_made_once_and_of_nothing_but_a_picture(formcheck_home: Path) -> None:
    from PIL import Image

    drawn = DataFolder(formcheck_home).artifacts(7)
    assert load_thumbnail(drawn) == ""
    drawn.folder.mkdir(parents=True)
    for content in ('{"1": "data:image/jpeg;base64,AAAA"}', '{"1": "data:text/html,x"}', "[]"):
        drawn.pictures_file.write_text(content, encoding="utf-8")
        assert load_thumbnail(drawn) == ""
    drawn.pictures_file.write_text(f'{{"1": "{picture(90)}"}}', encoding="utf-8")
    address = load_thumbnail(drawn)
    with Image.open(io.BytesIO(base64.b64decode(address.partition(",")[2]))) as small:
        assert (small.size, small.format) == (SIZE, "JPEG")
    drawn.pictures_file.unlink()
    assert load_thumbnail(drawn) == address


# ---------------------------------------------------------------- in a browser


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    home = tmp_path_factory.mktemp("inbox")
    fill_store(home, 6)
    with served(home) as url:
        yield url


@pytest.mark.browser
def test_sets_are_chosen_marked_deleted_and_brought_back_by_keys(address: str, browser: Any) -> None:
    page = browser.new_page(viewport=WIDE)
    page.set_default_timeout(60_000)
    page.goto(f"{address}/history")
    page.wait_for_selector(".fc-sets")
    assert_page_passes(page, "inbox")

    def wait_for_rows(*numbers: int) -> None:
        page.wait_for_function(
            "wanted => [...document.querySelectorAll('[data-set]')].map(row => row.dataset.set).join() === wanted",
            arg=",".join(map(str, numbers)),
        )
        settled(page)

    wait_for_rows(6, 5, 4, 3, 2, 1)
    for key in ("n", " ", "ArrowDown", " "):
        page.keyboard.press(key)
    page.get_by_text("2 chosen").wait_for()
    page.keyboard.press("Delete")
    wait_for_rows(4, 3, 2, 1)
    page.get_by_role("button", name="Undo").click()
    wait_for_rows(6, 5, 4, 3, 2, 1)
    for key in ("n", "n", "d"):  # from the row the keys were at last
        page.keyboard.press(key)
    wait_for_rows(6, 5, 3, 2, 1)
    page.get_by_role("button", name="Client").click()
    wait_for_rows(5, 1, 6, 2, 3)
    page.get_by_label("Choose set 1,").check()
    page.get_by_role("button", name="Export").click()
    page.get_by_role("button", name="Save the export").wait_for()
    page.goto(f"{address}/?review=3")
    page.wait_for_selector(".st-key-set_after button:enabled")
    settled(page)
    page.keyboard.press("Shift+N")
    page.wait_for_url(re.compile(r"review=(?!3\b)"))
    page.wait_for_selector(".st-key-set_before button:enabled")
    settled(page)
    page.keyboard.press("Shift+P")
    page.wait_for_url(re.compile(r"review=3\b"))
    page.close()
