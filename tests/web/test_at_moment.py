"""What is done with a moment of a set in a real browser: a link, a comment with a pen, a clip to be sent."""

import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from formcheck.core.landmarks import ClipInfo
from formcheck.pose.recording import save_recording
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from formcheck.video.clip_file import compute_clip_sha256
from formcheck.web.components.pen import read_strokes
from tests.web.browser_kit import (
    ARGUMENTS,
    NARROW,
    WIDE,
    assert_accessible,
    assert_no_sideways_scrolling,
    chromium,
    served,
    settled,
    wait_for_moment,
)
from tests.web.synthetic import RATE, synthetic_analysis, synthetic_recording

CLIP = ClipInfo("set.mp4", "0" * 64, 608, 1080, 20.0, 600, 30.0, False, "h264")


def write_clip(path: Path) -> None:
    """A film as long as the made-up set."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=int(RATE), options={"preset": "ultrafast", "g": "15"})
        stream.width, stream.height, stream.pix_fmt = 304, 540, "yuv420p"
        for at_s in synthetic_analysis().signals.t:
            picture = np.full((540, 304, 3), 40 + 7 * at_s, np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())


@pytest.fixture
def address(formcheck_home: Path, tmp_path: Path) -> Iterator[str]:
    """The page with two made-up sets of one client whose clip plays."""
    clip = tmp_path / "set.mp4"
    write_clip(clip)
    made = synthetic_analysis()
    info = replace(made.review.clip, sha256=compute_clip_sha256(clip))
    analysis = replace(made, review=replace(made.review, clip=info))
    with Store.open(default_store()) as store:
        for number in (1, 2):
            when = datetime(2026, 11, 20 + number, 18, 0, tzinfo=UTC)
            store.save_review(analysis.review, created_at=when, clip_path=clip, client="Mira Holt")
            files = DataFolder(formcheck_home).artifacts(number)
            files.folder.mkdir(parents=True)
            files.film.write_bytes(clip.read_bytes())
            files.report.write_text("<!DOCTYPE html>", encoding="utf-8")
            files.pictures_file.write_text("{}", encoding="utf-8")
            save_recording(synthetic_recording(analysis), files.recording)
    with served(formcheck_home) as url:
        yield url


def opened(browser: Any, url: str) -> Any:
    allowed = ["clipboard-read", "clipboard-write"]
    page = browser.new_context(viewport=WIDE, permissions=allowed, accept_downloads=True).new_page()
    page.set_default_timeout(60_000)
    page.goto(url)
    page.wait_for_selector(".st-key-fc_clip video")
    settled(page)
    return page


@pytest.mark.browser
def test_a_moment_is_linked_commented_and_cut_out(address: str, browser: Any, tmp_path: Path) -> None:
    page = opened(browser, f"{address}/?review=1&t=7.5")
    wait_for_moment(page, 7.5, RATE)
    page.get_by_role("button", name="Copy a link to this moment").click()
    page.get_by_text("works on this machine only").wait_for()
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.startswith(f"{address}/?review=1&t=7.5")

    page.get_by_role("button", name="Comment on this moment").click()
    dialog = page.get_by_role("dialog")
    canvas = dialog.locator("canvas")
    canvas.wait_for()
    page.wait_for_timeout(1500)
    box = canvas.bounding_box()
    page.mouse.move(box["x"] + 0.25 * box["width"], box["y"] + 0.5 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.75 * box["width"], box["y"] + 0.5 * box["height"], steps=6)
    page.mouse.up()
    dialog.get_by_role("button", name="Keep the comment").click()
    dialog.get_by_text("Type what you say, too").wait_for()
    dialog.get_by_label("What you say").fill("Hands level <b>here</b>.")
    assert_accessible(page)
    dialog.get_by_role("button", name="Keep the comment").click()
    page.get_by_text("Hands level <b>here</b>.", exact=True).wait_for()
    page.locator("img.fc-drawn").wait_for()
    with Store.open(default_store()) as store:
        (found,) = store.comments_of(1)
    assert found.comment.at_s == pytest.approx(7.5, abs=0.05)
    (stroke,) = found.comment.strokes
    # In pixels of the upright clip, 608 wide and 1080 high; a screen's pixel is two to three of them.
    assert stroke[0] == pytest.approx((152, 540), abs=6)
    assert stroke[-1] == pytest.approx((456, 540), abs=6)

    # The first click opens, the second has it made beside the page, the third saves it.
    page.get_by_role("button", name="Cut out a clip").click()
    page.get_by_role("button", name="Make the clip (MP4)").click()
    save = page.get_by_role("button", name="Save the clip of rep")
    save.wait_for(timeout=180_000)
    with page.expect_download() as download:
        save.click()
    assert download.value.suggested_filename.startswith("mira-holt_lateral-raise_2026-11-21_rep-")
    download.value.save_as(tmp_path / "sent.mp4")
    with av.open(str(tmp_path / "sent.mp4")) as film:
        assert not film.streams.audio
        assert "title" not in film.metadata

    page.keyboard.press("Escape")
    page.set_viewport_size(NARROW)
    settled(page)
    assert_no_sideways_scrolling(page)


@pytest.mark.browser
def test_the_keyboard_alone_opens_a_comment_goes_round_in_it_and_comes_back(address: str, browser: Any) -> None:
    """WCAG 2.2: 2.1.1 keyboard, 2.4.3 focus order, 2.4.7 focus visible (a line, not a shade)."""
    page = opened(browser, f"{address}/?review=1")
    focused = "(({tagName, innerText}) => innerText.trim() || tagName)(document.activeElement)"
    line = "getComputedStyle(document.activeElement).outlineStyle"
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert (page.evaluate(focused), page.evaluate(line)) == ("Review a set", "solid")

    button = page.get_by_role("button", name="Comment on this moment")
    button.focus()
    page.keyboard.press("Enter")
    dialog = page.get_by_role("dialog")
    dialog.locator("canvas").wait_for()
    settled(page)
    met = []
    for _ in range(12):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.closest('[role=dialog]') !== null")
        met.append(page.evaluate(focused))
    assert {"Undo a stroke", "Clear", "TEXTAREA", "Keep the comment"} <= set(met)
    page.keyboard.press("Escape")
    dialog.wait_for(state="detached")
    back = "document.activeElement.shadowRoot?.activeElement?.textContent === 'Comment on this moment'"
    page.wait_for_function(back)
    page.set_viewport_size(NARROW)
    page.get_by_role("button", name="Menu", exact=True).wait_for()


@pytest.fixture
def hearing(browser: Any) -> Iterator[Any]:
    """A browser whose microphone hears the beeps that chromium makes for tests."""
    own = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
    opened = browser.browser_type.launch(executable_path=chromium(), args=[*ARGUMENTS, *own])
    yield opened
    opened.close()


@pytest.mark.browser
def test_a_voice_note_is_recorded_kept_beside_its_text_and_heard_again(address: str, hearing: Any) -> None:
    page = hearing.new_context(viewport=WIDE, permissions=["microphone"]).new_page()
    page.set_default_timeout(90_000)
    page.goto(f"{address}/?review=1&t=7.5")
    page.wait_for_selector(".st-key-fc_clip video")
    settled(page)
    page.get_by_role("button", name="Comment on this moment").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Record").click()
    stop = dialog.get_by_role("button", name="Stop recording")
    stop.wait_for()
    dialog.get_by_test_id("stAudioInputWaveformTimeCode").filter(has_text="00:02").wait_for()
    stop.click()
    dialog.get_by_role("button", name="Clear recording").wait_for()
    settled(page)
    dialog.get_by_label("What you say").fill("Elbows lead the hands.")
    dialog.get_by_role("button", name="Keep the comment").click()
    page.get_by_text("Elbows lead the hands.", exact=True).wait_for()
    page.wait_for_function("() => [...document.querySelectorAll('audio')].some(item => item.duration > 1)")
    with Store.open(default_store()) as store:
        (found,) = store.comments_of(1)
        voice = store.voice_of(found.id)
    assert voice is not None
    with av.open(io.BytesIO(voice)) as sound:
        levels = np.concatenate([frame.to_ndarray().ravel() for frame in sound.decode(audio=0)]).astype(float)
        seconds = float(sound.duration) / av.time_base
    assert seconds == pytest.approx(2.5, abs=1.5)
    assert np.ptp(levels) > 0.05 * np.abs(levels).max() > 0  # it is not silence


def test_strokes_of_a_browser_are_kept_inside_the_picture() -> None:
    sent = [[[10, 20], [-5, 2000], ["a", 1], [1, 2, 3]], "no line", [], [[None, 1]], [[1.5, 2.5]]]
    assert read_strokes(sent, CLIP) == (((10.0, 20.0), (0.0, 1080.0)), ((1.5, 2.5),))
    assert read_strokes(None, CLIP) == ()
    assert len(read_strokes([[[1, 1]]] * 500, CLIP)) == 60
