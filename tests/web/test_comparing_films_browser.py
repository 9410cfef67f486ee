"""Two films in step in a real browser: two shipped clips of an invented person, as two sets of one client."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from formcheck.analysis import analyse
from formcheck.core.model import SetInfo
from formcheck.exercises.registry import get_exercise
from formcheck.pose.recording import load_recording, save_recording
from formcheck.report.comparison_headline import MOST_WORDS
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from tests.web.browser_kit import (
    CLIPS,
    NARROW,
    ROOT,
    WIDE,
    assert_accessible,
    assert_no_sideways_scrolling,
    assert_page_passes,
    save_screen,
    served,
    settled,
)

pytestmark = pytest.mark.browser

SETS = ("lateral_raise_front_clean", "lateral_raise_front_range_lost")
FILM_BOXES = tuple(f".st-key-fc_film_{name} .stElementContainer" for name in ("one", "two"))
PLACES = """() => [...document.querySelectorAll('.st-key-fc_film_one video, .st-key-fc_film_two video')]
  .map(video => video.currentTime)"""
READY = """() => { const films = [...document.querySelectorAll('.st-key-fc_films video')];
  return films.length === 2 && films.every(film => film.readyState >= 2 && !film.seeking)
    && document.querySelectorAll('.st-key-fc_films canvas.fc-skeleton').length === 2; }"""
INK = """() => [...document.querySelectorAll('.st-key-fc_films canvas.fc-skeleton')].map(canvas => {
  const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
  let seen = 0; for (let at = 3; at < data.length; at += 4) seen += data[at] > 0; return seen; })"""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sets of one day, made from the committed landmarks of shipped clips, each with its film."""
    folder = tmp_path_factory.mktemp("films-home")
    with pytest.MonkeyPatch.context() as patch, Store.open(folder / "reviews.sqlite") as store:
        patch.setenv("FORMCHECK_HOME", str(folder))
        exercise = get_exercise("lateral-raise")
        for number, name in enumerate(SETS, start=1):
            recording = load_recording(ROOT / "tools" / "benchmarks" / "recordings" / "shipped" / f"{name}.npz")
            review = analyse(recording, exercise, set_info=SetInfo(8.0, 9)).review
            made = datetime(2026, 11, 20, 17, number, tzinfo=UTC)
            row = store.save_review(
                review, created_at=made, client="Ada", session_on=made.date(), set_number=number, clip_path=None
            )
            files = DataFolder(folder).artifacts(row)
            files.folder.mkdir(parents=True)
            save_recording(recording, files.recording)
            files.report.write_text("<!DOCTYPE html>", encoding="utf-8")
            files.pictures_file.write_text("{}", encoding="utf-8")
            shutil.copyfile(CLIPS / f"{name}.mp4", files.film)
        store.add_client("Ben", created_at=datetime(2026, 11, 1, tzinfo=UTC))
    return folder


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    with served(home) as url:
        yield url


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    opened = browser.new_page(viewport=WIDE)
    opened.set_default_timeout(90_000)
    yield opened
    opened.close()


def test_two_clicks_from_a_set_lead_to_both_films_and_what_changed(address: str, page: Any) -> None:
    page.goto(f"{address}/?review=2")
    page.get_by_role("link", name="Against another set").click()
    page.wait_for_function(READY)
    settled(page)
    headline = page.locator(".fc-headline")
    assert headline.count() == 1
    words = headline.inner_text().split()
    assert 5 <= len(words) <= MOST_WORDS
    assert "Set 2 against set 1:" in headline.inner_text()
    assert "sure" in words[-1]
    assert_in_first_screen(page)
    # The client of the set it was reached from, not whoever comes first or everybody.
    page.get_by_text("Compare other sets or reps").click()
    assert page.get_by_role("combobox", name="Client").input_value() == "Ada"
    names = page.locator(".fc-film-name").all_inner_texts()
    assert [name.split(":")[0] for name in names] == ["Set 1", "Set 2"]
    assert all(ink > 300 for ink in page.evaluate(INK))  # a skeleton lies on each
    assert_page_passes(page, "compare-films", leave=True)


def assert_in_first_screen(page: Any) -> None:
    """Headline and both films are seen without scrolling."""
    boxes = [page.locator(place).first.bounding_box() for place in (".fc-headline", *FILM_BOXES)]
    assert all(box["y"] >= 0 and box["y"] + box["height"] <= page.viewport_size["height"] for box in boxes), boxes


def test_early_against_late_is_one_click_and_shows_one_clip_twice(address: str, page: Any) -> None:
    page.goto(f"{address}/?review=2")
    page.get_by_role("link", name="Early against late").click()
    page.wait_for_function(READY)
    settled(page)
    headline = page.locator(".fc-headline").inner_text()
    assert headline.startswith("Late against early reps:")
    assert len(headline.split()) <= MOST_WORDS
    one, other = page.evaluate(PLACES)
    assert other > one + 5.0  # later in the same clip
    assert page.locator(".fc-film-name").all_inner_texts() == ["The early reps: reps 1–3", "The late reps: reps 5–7"]
    save_screen(page, "compare-ends-wide-light")
    assert_accessible(page)


def test_keys_move_both_films_to_the_same_phase_and_playing_keeps_them_there(address: str, page: Any) -> None:
    page.goto(f"{address}/compare?after=2")
    page.wait_for_function(READY)
    settled(page)
    clock = page.get_by_role("slider", name="Moment of the rep in both films")
    clock.focus()
    page.keyboard.press("Home")
    assert clock.get_attribute("aria-valuetext") == "rep 1, lifting, 0 %"
    page.wait_for_function(READY)
    first = page.evaluate(PLACES)
    page.get_by_role("button", name="Next rep").focus()
    page.keyboard.press("Enter")
    assert clock.get_attribute("aria-valuetext").startswith("rep 2, lifting, 0 %")
    page.wait_for_function(READY)
    second = page.evaluate(PLACES)
    reps = [analyse_reps(name) for name in SETS]
    for film, (at_one, at_two) in enumerate(zip(first, second, strict=True)):
        assert at_one == pytest.approx(reps[film][0].start_s, abs=0.05)
        assert at_two == pytest.approx(reps[film][1].start_s, abs=0.05)
    page.get_by_role("button", name="Play both").press("Enter")
    page.wait_for_function(
        f"() => {{ const films = ({PLACES})(); return films[0] > {second[0] + 0.6} && films[1] > {second[1] + 0.4}; }}"
    )
    page.get_by_role("button", name="Pause both").press("Enter")
    page.wait_for_function(READY)
    words = clock.get_attribute("aria-valuetext")
    assert page.get_by_role("status").first.count() == 1
    before = page.evaluate(PLACES)
    page.wait_for_timeout(400)
    assert page.evaluate(PLACES) == pytest.approx(before)  # both stand still
    assert clock.get_attribute("aria-valuetext") == words


def analyse_reps(name: str) -> Any:
    recording = load_recording(ROOT / "tools" / "benchmarks" / "recordings" / "shipped" / f"{name}.npz")
    return analyse(recording, get_exercise("lateral-raise")).review.reps


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_phone_one_film_stands_above_the_other(address: str, browser: Any, scheme: str) -> None:
    page = browser.new_page(viewport=NARROW, color_scheme=scheme)
    page.set_default_timeout(90_000)
    try:
        page.goto(f"{address}/compare?after=2")
        page.wait_for_function(READY)
        settled(page)
        boxes = [page.locator(f".st-key-fc_film_{name} video").bounding_box() for name in ("one", "two")]
        frames = [page.locator(f".st-key-fc_film_{name}").bounding_box() for name in ("one", "two")]
        assert all(boxes)
        assert frames[1]["y"] >= frames[0]["y"] + frames[0]["height"]
        assert frames[0]["x"] == frames[1]["x"]
        assert_in_first_screen(page)
        page.wait_for_function(f"() => ({PLACES})().every(at => at > 1)")  # not at the clip's beginning
        assert_no_sideways_scrolling(page)
        assert_accessible(page)
        save_screen(page, f"compare-films-narrow-{scheme}")
    finally:
        page.close()
