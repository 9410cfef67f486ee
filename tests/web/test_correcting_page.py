"""Correcting by hand on the page: each kind shown before it is stored, stored, undone; the machine's own result stays.

The truth is the drawn set itself: how many reps it has and when each begins (`tests.lifter.Set`).
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.analysis import analyse
from formcheck.core.model import Review
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.pose.recording import save_recording
from formcheck.services.other_exercise import name_other_exercise
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from tests import lifter
from tests.facts import says
from tests.rendered import load_landmarks
from tests.web.test_pages import read_page

SET = lifter.Set((90.0, 88.0, 91.0, 89.0))
CLOSE_S = 0.15
"""The reps' bounds are found within this of the plan (0.1 to 0.2 s of a minimum-jerk movement's ends hardly move)."""


@pytest.fixture
def number(store_review: Callable[..., int], formcheck_home: Path) -> int:
    """A stored review of the drawn set, its landmarks beside it."""
    t = lifter.times(SET.length_s)
    recording = lifter.film(t, left=SET.course(t), right=SET.course(t))
    made = store_review(analyse(recording, get_exercise("lateral-raise")))
    save_recording(recording, DataFolder(formcheck_home).artifacts(made).recording)
    return made


@pytest.fixture
def page(number: int, open_page: Callable[..., AppTest]) -> AppTest:
    opened = open_page()
    opened.query_params["review"] = str(number)
    opened = opened.switch_page("formcheck/web/pages/correct_by_hand.py").run()
    assert not opened.exception
    return opened


def stored(number: int) -> tuple[Review, Review, int]:
    """The review that holds, the machine's own, and how many corrections are stored."""
    with Store.open(default_store()) as store:
        return store.load_review(number), store.load_original(number), len(store.revisions_of(number))


def kind(page: AppTest, name: str) -> AppTest:
    return page.pills(key="correct_kind").set_value(name).run()


def field(page: AppTest, ending: str) -> Any:
    (found,) = [item for item in page.number_input if str(item.key).endswith(ending)]
    return found


def choice(page: AppTest, beginning: str) -> Any:
    (found,) = [item for item in page.selectbox if str(item.key).startswith(beginning)]
    return found


def keep(page: AppTest) -> AppTest:
    page.button(key="keep_correction").click().run()
    assert not page.exception
    return page


def undo(page: AppTest, number: int) -> None:
    """Undo the newest correction: the review that holds is the one from before."""
    page.button(key="undo_correction").click().run()
    assert not page.exception
    assert says(read_page(page), "undone")
    held, original, _ = stored(number)
    assert held == original


def test_nothing_is_kept_before_something_is_changed(page: AppTest, number: int) -> None:
    assert page.button(key="keep_correction").disabled
    before = stored(number)
    assert len(before[0].reps) == len(SET.peaks)
    for name in ("move", "add", "delete", "leave_out", "exercise"):
        kind(page, name)
        assert not page.exception
        assert page.button(key="keep_correction").disabled
    assert stored(number) == before


def test_a_rep_is_moved_and_put_back(page: AppTest, number: int) -> None:
    before = stored(number)[0]
    moment = round(before.reps[0].start_s + 0.2, 2)
    field(page, "_1_start").set_value(moment).run()
    assert 'class="fc-effect"' in read_page(page)
    assert stored(number)[0] == before
    keep(page)
    held, original, revisions = stored(number)
    assert (held.reps[0].by_hand, held.reps[0].start_s, revisions) == (True, pytest.approx(moment, abs=1e-6), 1)
    assert original == before
    # to the millisecond that times are kept to
    assert [rep.start_s for rep in held.reps[1:]] == pytest.approx([rep.start_s for rep in before.reps[1:]], abs=2e-3)
    undo(page, number)


def test_a_deleted_rep_is_added_again(page: AppTest, number: int) -> None:
    before = stored(number)[0]
    kind(page, "delete")
    box = choice(page, "delete_rep")
    box.set_value(before.reps[1]).run()
    keep(page)
    left = [before.reps[place].top_s for place in (0, 2, 3)]
    assert [rep.top_s for rep in stored(number)[0].reps] == pytest.approx(left, abs=2e-3)
    kind(page, "add")
    assert page.button(key="keep_correction").disabled
    start = SET.starts[1]
    end = start + SET.concentric_s + SET.top_s + SET.eccentric_s
    field(page, "_start").set_value(start).run()
    field(page, "_end").set_value(end).run()
    assert not page.exception
    assert 'class="fc-effect"' in read_page(page)
    assert len(stored(number)[0].reps) == 3
    keep(page)
    held, original, revisions = stored(number)
    assert (len(held.reps), revisions) == (4, 2)
    added = held.reps[1]
    assert added.by_hand
    assert (added.start_s, added.end_s) == (pytest.approx(start, abs=0.01), pytest.approx(end, abs=0.01))
    # the top is found between them: where the plan holds the arm up
    assert start + SET.concentric_s - CLOSE_S <= added.top_s <= start + SET.concentric_s + SET.top_s + CLOSE_S
    assert original == before
    page.button(key="undo_correction").click().run()
    assert len(stored(number)[0].reps) == 3
    undo(page, number)


def test_a_rep_that_would_overlap_another_is_refused_in_a_sentence(page: AppTest, number: int) -> None:
    before = stored(number)
    kind(page, "add")
    field(page, "_start").set_value(SET.starts[1] + 0.5).run()
    field(page, "_end").set_value(SET.starts[1] + 2.5).run()
    assert not page.exception
    assert len(page.error) == 1
    assert says(page.error[0].value, "overlap", "rep 2")
    assert page.button(key="keep_correction").disabled
    assert stored(number) == before


def test_what_is_left_out_takes_its_reps_with_it(page: AppTest, number: int) -> None:
    before = stored(number)[0]
    kind(page, "leave_out")
    until = (SET.starts[1] + before.reps[0].end_s) / 2
    field(page, "_end").set_value(until).run()
    assert 'class="fc-effect"' in read_page(page)
    keep(page)
    held, original, _ = stored(number)
    assert [rep.top_s for rep in held.reps] == pytest.approx([rep.top_s for rep in before.reps[1:]], abs=0.05)
    assert [rep.number for rep in held.reps] == [1, 2, 3]
    assert original == before
    undo(page, number)


def test_another_exercise_judges_by_its_own_points(page: AppTest, number: int) -> None:
    before = stored(number)[0]
    kind(page, "exercise")
    choice(page, "other_exercise").set_value("overhead-lateral-raise").run()
    assert not page.exception
    assert 'class="fc-effect"' in read_page(page)
    keep(page)
    held, original, _ = stored(number)
    assert held.exercise.id == "overhead-lateral-raise"
    wanted = get_exercise("overhead-lateral-raise")
    judged = {finding.check for finding in held.findings}
    assert "overhead" in judged
    assert judged <= {item.id for item in (*wanted.checks, *wanted.untold)}
    assert original == before
    assert original.exercise.id == "lateral-raise"
    undo(page, number)


def test_what_the_machine_found_stays_to_be_read(page: AppTest, number: int) -> None:
    kind(page, "delete")
    reps = stored(number)[0].reps
    choice(page, "delete_rep").set_value(reps[-1]).run()
    keep(page)
    text = read_page(page)
    assert says(text, "Correction 1")
    assert says(text, "4 complete reps")  # under "What the machine found"
    assert says(text, "in force")


def test_without_landmarks_a_correction_is_refused_in_a_sentence(
    store_review: Callable[..., int], open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    t = lifter.times(SET.length_s)
    analysis = analyse(lifter.film(t, left=SET.course(t), right=SET.course(t)), get_exercise("lateral-raise"))
    clip = replace(analysis.review.clip, sha256="c" * 64)
    made = store_review(replace(analysis, review=replace(analysis.review, clip=clip)), drawn=False)
    opened = open_page()
    opened.query_params["review"] = str(made)
    opened = opened.switch_page("formcheck/web/pages/correct_by_hand.py").run()
    assert not opened.exception
    field(opened, "_1_start").set_value(round(SET.starts[0] + 0.3, 2)).run()
    assert not opened.exception
    assert says(opened.error[0].value, "no longer kept")
    assert opened.button(key="keep_correction").disabled


def test_a_set_doubted_by_its_movement_is_reviewed_as_it_was_asked_in_one_step(
    store_review: Callable[..., int], open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    recording = load_landmarks("000_lateral_raise")
    asked = get_exercise("machine-reverse-fly")
    made = name_other_exercise(analyse(recording, asked), recording, load_exercises().values())
    assert made.review.reps == ()
    number = store_review(made)
    save_recording(recording, DataFolder(formcheck_home).artifacts(number).recording)
    page = open_page(review=str(number))
    assert get_exercise("lateral-raise").name in page.button(key="review_as_other").label
    page.button(key="review_as_asked").click().run()
    assert not page.exception
    now, original, _ = stored(number)
    assert (now.exercise.id, original.reps) == (asked.id, ())
    assert now.reps
    assert not now.quality.problems
    assert now.by_hand
