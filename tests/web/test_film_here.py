"""A set filmed on the page: its parts without a browser, and the whole way with Chromium's fake camera."""

import json
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import av
import pytest
from streamlit.testing.v1 import AppTest

from formcheck.storage import Store, film_pieces
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.film_pieces import QUIET_S
from formcheck.web.components import camera
from formcheck.web.components.camera import WORDS, FilmTaken, read_film
from tests.browser_film import cut_in_pieces, write_camera_file, write_film
from tests.jobs.rows import job_of
from tests.web.browser_kit import ARGUMENTS, CLIPS, WIDE, assert_page_passes, chromium, served, settled

NAME = "set-" + "0123456789abcdef" * 2
CLIP = CLIPS / "lateral_raise_front_clean.mp4"
WORK_MS = 400_000
FILMED_S = 14


def lay_film(home: Path, folder: Path, *, age_s: float = 2 * QUIET_S) -> bytes:
    """Three of four pieces of a film, the last of which came so long ago; their bytes."""
    pieces = cut_in_pieces(write_film(folder / "film.mp4").read_bytes())[:3]
    for number, content in enumerate(pieces):
        part = home / "piece.part"
        part.write_bytes(content)
        film_pieces.keep_piece(home, NAME, number, part)
        then = time.time() - age_s - 5 * (2 - number)
        os.utime(DataFolder(home).film_pieces / NAME / f"{number:04}", (then, then))
    return b"".join(pieces)


def test_what_arrived_of_a_film_is_reviewed(
    formcheck_home: Path, tmp_path: Path, open_page: Callable[..., AppTest], launched: list[str]
) -> None:
    content = lay_film(formcheck_home, tmp_path)
    page = open_page()
    assert any("An unfinished film" in item.body and "about 11 s" in item.body for item in page.html)
    page.button(key=f"review_{NAME}").click().run()
    assert not page.exception
    assert [path.read_bytes() for path in DataFolder(formcheck_home).clips.iterdir()] == [content]
    (job,) = map(job_of, launched)
    assert (job.request.kind, job.request.clip_name.startswith("filmed ")) == ("look", True)
    assert not any("An unfinished film" in item.body for item in page.html)
    assert any('class="fc-clip"' in item.body and "filmed" in item.body for item in page.html)


def test_what_arrived_of_a_film_is_discarded(
    formcheck_home: Path, tmp_path: Path, open_page: Callable[..., AppTest], launched: list[str]
) -> None:
    lay_film(formcheck_home, tmp_path)
    page = open_page()
    page.button(key=f"discard_{NAME}").click().run()
    assert not page.exception
    assert not any("An unfinished film" in item.body for item in page.html)
    assert list(DataFolder(formcheck_home).film_pieces.iterdir()) == []
    assert launched == []


def test_a_film_that_still_comes_is_not_listed(
    formcheck_home: Path, tmp_path: Path, open_page: Callable[..., AppTest]
) -> None:
    lay_film(formcheck_home, tmp_path, age_s=0)
    assert not any("An unfinished film" in item.body for item in open_page().html)


@pytest.mark.parametrize(
    "sent",
    [
        None, "set", {}, {"name": NAME}, {"name": "../x", "pieces": 1}, {"name": NAME + "\n", "pieces": 1},
        {"name": NAME, "pieces": 0}, {"name": NAME, "pieces": "3"}, {"name": NAME, "pieces": 10**9},
    ],
)  # fmt: skip
def test_what_names_no_film_is_none(sent: Any) -> None:
    assert read_film(sent, "a") is None


def test_a_film_is_known_by_its_name() -> None:
    assert read_film({"name": NAME, "pieces": 3}, "a") == FilmTaken("a", NAME, 3)
    assert FilmTaken("a", f"test-{'0' * 32}", 1).is_test
    assert not FilmTaken("a", NAME, 1).is_test


def test_another_visitors_film_is_told_and_stays(
    formcheck_home: Path, tmp_path: Path, open_page: Callable[..., AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    content = lay_film(formcheck_home, tmp_path)
    monkeypatch.setattr(camera, "mount_camera", lambda key: FilmTaken("another", NAME, 3))
    page = open_page().switch_page("formcheck/web/pages/film_here.py").run()
    assert not page.exception
    assert any("not here, or another visitor" in item.value for item in page.error)
    (film,) = film_pieces.list_films(formcheck_home)
    assert film.size == len(content)


# ---------------------------------------------------------------- in a real browser


@pytest.fixture(scope="module")
def filming(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A browser whose camera shows a shipped clip from its beginning each time it is turned on."""
    file = write_camera_file(CLIP, tmp_path_factory.mktemp("camera") / "camera.mjpeg", 360)
    own = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
    own.append(f"--use-file-for-fake-video-capture={file}")
    opened = browser.browser_type.launch(executable_path=chromium(), args=[*ARGUMENTS, *own])
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    """The page over a data folder of this module's own."""
    with served(home) as url:
        yield url


def turn_on(page: Any, address: str) -> None:
    page.goto(f"{address}/film")
    settled(page)
    page.get_by_role("button", name="Turn the camera on").click()
    page.get_by_text(WORDS["ready"]).wait_for(timeout=60_000)
    page.get_by_label("Countdown").select_option("5")


def choose_lateral_raise(page: Any) -> None:
    page.get_by_role("combobox", name="Exercise").click()
    page.get_by_role("option", name="Lateral raise to shoulder height", exact=True).click()
    page.get_by_text("In front (best)").wait_for()
    settled(page)


def store_film(page: Any) -> None:
    """From the countdown's start to the filming itself."""
    page.get_by_role("button", name="Film the set").click()
    page.get_by_text(WORDS["leading"].format(5)).wait_for()
    page.get_by_text(WORDS["filming"]).wait_for(timeout=30_000)


@pytest.mark.browser
@pytest.mark.pose
def test_from_the_camera_to_the_reps(address: str, filming: Any, home: Path) -> None:
    truth = json.loads(CLIP.with_suffix(".truth.json").read_text(encoding="utf-8"))
    page = filming.new_page(viewport=WIDE)
    page.set_default_timeout(120_000)
    turn_on(page, address)
    choose_lateral_raise(page)
    assert page.evaluate("document.querySelectorAll('.fc-drawing').length") == 2
    assert_page_passes(page, "film-here-camera")

    page.get_by_role("button", name="Test the placement: three seconds").click()
    page.get_by_text(WORDS["testing"]).wait_for()
    page.wait_for_url("**/film?test=*")
    page.get_by_text("Good enough: film the set just like this.").wait_for(timeout=WORK_MS)
    page.get_by_text("Lateral raise to shoulder height, from the front").wait_for()
    page.get_by_text("pictures a second").first.wait_for()
    assert page.get_by_text("tell more").count() == 0  # three seconds are what was asked for
    until = time.monotonic() + 60
    while (clips := list((home / "clips").iterdir())) and time.monotonic() < until:
        time.sleep(0.1)
    assert clips == []  # a test film is deleted once it was looked at

    turn_on(page, address)  # the fake camera begins again with the set
    choose_lateral_raise(page)
    store_film(page)
    page.wait_for_timeout(FILMED_S * 1000)
    assert len(film_pieces.list_films(home)[0].pieces) > 5  # it is sent while it is taken
    page.keyboard.press("Space")
    page.locator(".fc-clip").wait_for()
    settled(page)
    assert film_pieces.list_films(home) == []
    page.get_by_text("I have read the cautions").click()
    page.get_by_role("button", name="Review the set", exact=True).click()
    page.locator(".fc-rep").first.wait_for(timeout=WORK_MS)
    page.get_by_text("All numbers, rep by rep").wait_for()
    page.close()
    with Store.open(DataFolder(home).store) as store:
        review = store.load_review(1)
    assert review.exercise.id == "lateral-raise"
    with av.open(str(DataFolder(home).upload(review.clip.sha256))) as film:
        assert len(film.streams.audio) == 0
    assert "clip-damaged" not in [problem.code for problem in review.quality.problems]
    assert abs(review.clip.duration_s - FILMED_S) < 3
    assert review.clip.name.startswith("filmed ")
    assert 2 <= len(review.reps) <= len(truth["reps"])


@pytest.mark.browser
@pytest.mark.pose
def test_a_closed_tab_leaves_the_film_so_far(address: str, filming: Any, home: Path) -> None:
    page = filming.new_page(viewport=WIDE)
    page.set_default_timeout(120_000)
    turn_on(page, address)
    page.get_by_role("button", name="Film the set").click()
    page.keyboard.press("Escape")  # called off, nothing was filmed
    page.get_by_text(WORDS["ready"]).wait_for()
    assert film_pieces.list_films(home) == []
    store_film(page)
    page.wait_for_timeout(4000)
    page.close()
    time.sleep(QUIET_S + 1)
    (film,) = film_pieces.list_films(home)
    content = b"".join(piece.read_bytes() for piece in film.pieces)
    page = filming.new_page(viewport=WIDE)
    page.set_default_timeout(120_000)
    page.goto(address)
    page.get_by_text("An unfinished film").wait_for()
    page.get_by_role("button", name="Review what arrived").click()
    page.locator(".fc-clip").wait_for()
    page.close()
    assert film_pieces.list_films(home) == []
    assert content in [path.read_bytes() for path in DataFolder(home).clips.iterdir()]


@pytest.mark.browser
def test_a_page_that_answers_late_or_was_started_anew_gets_all_of_the_film(
    address: str, filming: Any, home: Path
) -> None:
    """Pieces on a broken line are sent again, and all of them under another name where the page forgot the film."""
    page = filming.new_page(viewport=WIDE)
    page.set_default_timeout(120_000)
    names, answers = [], []

    def answer(route: Any) -> None:
        names.append(route.request.url.rsplit("/", 2)[1])
        if len(names) in (2, 3):
            answers.append("broken")
            route.abort("connectionreset")
        elif len(names) == 6:
            answers.append("gone")
            route.fulfill(status=410, body="This film is not being taken any more.")
        else:
            route.continue_()

    page.route("**/_formcheck/film/**", answer)
    turn_on(page, address)
    page.get_by_label("With sound").check()
    page.get_by_text(WORDS["ready"]).wait_for()
    before = {path.name for path in (home / "clips").glob("*")}
    page.get_by_role("button", name="Film the set").click()
    page.get_by_text(WORDS["filming"]).wait_for(timeout=60_000)
    page.wait_for_timeout(6000)
    page.get_by_role("button", name="End the film").click()
    page.locator(".fc-clip").last.wait_for()
    settled(page)
    page.close()
    assert answers == ["broken", "broken", "gone"]
    assert len(set(names)) == 2
    (left,) = film_pieces.list_films(home)  # what arrived under the first name, for whoever looks for it
    film_pieces.discard_film(left)
    (new,) = {path.name for path in (home / "clips").glob("*") if not path.suffix} - before
    with av.open(str(home / "clips" / new)) as film:
        times = [float(packet.pts * packet.time_base) for packet in film.demux(video=0) if packet.pts is not None]
        assert len(film.streams.audio) == 1
    assert times[0] == 0.0
    assert times[-1] > 5.0


@pytest.mark.browser
@pytest.mark.parametrize(
    ("lacks", "told"), [("leave", "refused"), ("camera", "missing"), ("https", "insecure"), ("recorder", "unknown")]
)
def test_without_a_camera_one_sentence_says_why(address: str, browser: Any, lacks: str, told: str) -> None:
    """To a page that is not on this machine or sent over HTTPS a browser shows no cameras (Media Capture, 10.1)."""
    denying = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream=deny"]
    own = [*ARGUMENTS, *(denying if lacks == "leave" else [])]
    opened = browser.browser_type.launch(executable_path=chromium(), args=own)
    page = opened.new_page(viewport=WIDE)
    page.set_default_timeout(120_000)
    if lacks == "https":
        page.add_init_script("delete Navigator.prototype.mediaDevices")
    elif lacks == "recorder":
        page.add_init_script("delete window.MediaRecorder")
    page.goto(f"{address}/film")
    settled(page)
    page.get_by_role("button", name="Turn the camera on").click()
    page.get_by_text(WORDS[told]).wait_for()
    assert page.get_by_role("button", name="Film the set").count() == 0
    page.get_by_role("button", name="Turn the camera on").wait_for()
    opened.close()
