"""Correcting by hand, own limits and handing over in a real browser, on a reviewed clip and with a client."""

import io
import json
import shutil
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pytest

from formcheck.store import Store
from tests.page.browser_kit import (
    NARROW,
    WIDE,
    assert_accessible,
    assert_no_sideways_scrolling,
    keep_screen,
    served,
    settled,
)

pytestmark = [pytest.mark.browser, pytest.mark.pose]
CLIENT = "Ada Example (invented)"
VIDEO = "document.querySelector('.st-key-fc_clip video')"


@pytest.fixture(scope="module")
def home(demo_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the reviewed clips to change at will, review 2 a client's."""
    copy = tmp_path_factory.mktemp("desk") / "home"
    shutil.copytree(demo_home, copy, ignore=shutil.ignore_patterns("server.log"))
    with Store.open(copy / "reviews.sqlite") as store:
        store.change_review(2, client=CLIENT, changed_at=datetime.now(UTC))
    return copy


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    with served(home) as url:
        yield url


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    opened = browser.new_page(viewport=WIDE, accept_downloads=True)
    yield opened
    opened.close()


def stored(home: Path) -> Any:
    with Store.open(home / "reviews.sqlite") as store:
        return store.load_review(2), store.load_original(2), store.revisions_of(2)


def looked_at(page: Any, name: str) -> None:
    """Wide and narrow, light and dark: a picture for a person, and the rules."""
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        for width, size in (("wide", WIDE), ("narrow", NARROW)):
            page.set_viewport_size(size)
            settled(page)
            keep_screen(page, f"{name}-{width}-{scheme}")
            assert_no_sideways_scrolling(page)
            assert_accessible(page)
    page.emulate_media(color_scheme="light")
    page.set_viewport_size(WIDE)
    settled(page)


def test_a_rep_is_moved_from_the_clip_seen_kept_and_undone(page: Any, address: str, home: Path) -> None:
    before = stored(home)[0]
    page.goto(f"{address}/?review=2")
    page.get_by_role("link", name="Correct by hand").click()
    page.wait_for_function(f"{VIDEO}?.readyState >= 2", timeout=60_000)
    settled(page)
    moment = before.reps[0].start_s + 0.4
    page.evaluate(f"{VIDEO}.currentTime = {moment}")
    page.wait_for_function(f"Math.abs({VIDEO}.currentTime - {moment}) < 0.02 && !{VIDEO}.seeking")
    page.get_by_role("button", name="Start = clip now").click()
    page.wait_for_selector(".fc-effect", timeout=60_000)
    settled(page)
    typed = float(page.get_by_role("spinbutton", name="Start, s").input_value())
    assert typed == pytest.approx(moment, abs=0.02)
    assert "by hand" in page.locator(".st-key-fc_reps_now .fc-rep-times tr[data-rep='1']").inner_text()
    assert stored(home)[0] == before  # only looked at so far
    assert page.locator("canvas.fc-bones").count() == 1
    looked_at(page, "correct-by-hand")
    page.get_by_role("button", name="Keep this correction").click()
    page.wait_for_selector(".fc-kept", timeout=60_000)
    settled(page)
    after, original, kept = stored(home)
    assert after.reps[0].by_hand
    assert after.reps[0].start_s == pytest.approx(moment, abs=0.02)
    assert original == before
    assert len(kept) == 1
    page.get_by_role("link", name="Back to the review").click()
    page.wait_for_selector(".fc-corrected", timeout=60_000)
    page.wait_for_selector(".fc-rep", timeout=120_000)
    page.wait_for_function(f"{VIDEO}?.readyState >= 2", timeout=120_000)
    settled(page)
    keep_screen(page, "review-corrected")
    page.get_by_role("link", name="Correct by hand").click()
    page.get_by_role("button", name="Undo the newest correction").click()
    page.wait_for_selector(".fc-kept :text('undone')", timeout=60_000)
    assert stored(home)[0] == before


def test_a_rep_is_deleted_and_a_part_left_out_before_anything_is_kept(page: Any, address: str, home: Path) -> None:
    before = stored(home)[0]
    page.goto(f"{address}/correct?review=2")
    page.get_by_role("radio", name="Delete a rep").or_(page.get_by_role("button", name="Delete a rep")).first.click()
    page.get_by_role("combobox", name="Rep to delete").click()
    page.get_by_role("option").nth(1).click()
    page.wait_for_selector(".fc-effect", timeout=60_000)
    settled(page)
    assert page.locator(".st-key-fc_reps_now .fc-rep-times tbody tr").count() == len(before.reps) - 1
    keep_screen(page, "correct-delete")
    assert stored(home)[0] == before


def test_own_limits_show_what_they_would_change_and_can_be_taken_back(page: Any, address: str, home: Path) -> None:
    review = stored(home)[0]
    page.goto(f"{address}/limits?exercise={review.exercise.id}")
    page.wait_for_selector("[data-testid=stExpander]", timeout=60_000)
    page.get_by_text("Arms all the way overhead").first.click()
    field = page.get_by_role("spinbutton", name="At least, degrees").first
    field.fill("60")
    field.press("Enter")
    page.wait_for_selector(".fc-changes li", timeout=60_000)
    settled(page)
    told = page.locator(".fc-changes").inner_text()
    assert CLIENT in told
    assert "going well" in told
    looked_at(page, "own-limits")
    page.get_by_role("button", name="Keep these limits").click()
    page.wait_for_selector("[class*=st-key-fc_limits_]", timeout=60_000)
    settled(page)
    with Store.open(home / "reviews.sqlite") as store:
        assert [item.changes["overhead"].limit for item in store.limits_of(review.exercise.id)] == [60.0]
        assert store.limits_of(review.exercise.id)
        assert store.load_review(2) == review  # past reviews stay as they were told
    keep_screen(page, "own-limits-kept")
    page.get_by_role("button", name="Back to formcheck’s own limits").click()
    page.wait_for_selector("button:has-text('Bring these back')", timeout=60_000)
    settled(page)
    with Store.open(home / "reviews.sqlite") as store:
        assert not store.limits_of(review.exercise.id)


def saved(page: Any, name: str) -> bytes:
    with page.expect_download(timeout=120_000) as waiting:
        page.get_by_role("button", name=name).click()
    return Path(waiting.value.path()).read_bytes()


def test_a_review_is_taken_along_with_the_face_blurred(page: Any, address: str, home: Path) -> None:
    page.goto(f"{address}/?review=2")
    page.wait_for_selector("button:has-text('Report (PDF)')", timeout=120_000)
    settled(page)
    sharp = saved(page, "Report (HTML)").decode()
    page.get_by_text("Blur the face in report and clip").click()
    page.get_by_text("other people in the picture stay").wait_for(timeout=60_000)
    settled(page)
    blurred = saved(page, "Report (HTML)").decode()
    assert blurred.count("data:image/jpeg") == sharp.count("data:image/jpeg") > 0
    assert len(blurred) < len(sharp)  # the same pictures with less in them
    paper = pdfium.PdfDocument(saved(page, "Report (PDF)"))
    text = " ".join(" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in paper)
    assert "Please read before you train" in text
    assert "±" in text
    assert saved(page, "Numbers (CSV)").decode("utf-8-sig").startswith("rep,")
    assert json.loads(saved(page, "Numbers (JSON)"))
    page.get_by_role("button", name="Draw the skeleton into the clip").click()
    page.wait_for_selector("button:has-text('Clip with skeleton')", timeout=180_000)
    assert saved(page, "Clip with skeleton (MP4)") == (home / "drawn" / "2" / "overlay-covered.mp4").read_bytes()
    keep_screen(page, "take-along-blurred")


def test_a_client_is_exported_whole_and_deleted_whole_after_the_name_is_typed(
    page: Any, address: str, home: Path
) -> None:
    page.goto(f"{address}/hand-over")
    page.get_by_role("combobox", name="Client").click()
    page.get_by_role("option", name=CLIENT).click()
    page.wait_for_selector("button:has-text('Make the export')", timeout=60_000)
    page.get_by_text("Blur the face in every picture and clip").click()
    settled(page)
    looked_at(page, "hand-over")
    page.get_by_role("button", name="Make the export").click()
    page.wait_for_selector("button:has-text('Save the export')", timeout=180_000)
    with zipfile.ZipFile(io.BytesIO(saved(page, "Save the export"))) as archive:
        names = archive.namelist()
        assert {"client.json", "sets.csv"} <= set(names)
        assert any(name.endswith("clip.mp4") for name in names)
    delete = page.get_by_role("button", name="Delete everything for good")
    assert delete.is_disabled()
    field = page.get_by_label("Type the client’s name")
    field.fill("Ada")
    field.press("Enter")
    page.get_by_text("That is not the name yet.").wait_for(timeout=60_000)
    assert delete.is_disabled()
    field.fill(CLIENT)
    field.press("Enter")
    page.wait_for_function(
        "![...document.querySelectorAll('button')].find(b => b.innerText.includes('for good')).disabled"
    )
    settled(page)
    keep_screen(page, "hand-over-delete")
    delete.click()
    page.get_by_text("is deleted").wait_for(timeout=60_000)
    with Store.open(home / "reviews.sqlite") as store:
        assert not store.list_clients()
        assert [row.id for row in store.list_reviews()] == [1]
    assert not (home / "drawn" / "2").exists()
    assert not list((home / "exports").glob("*"))
    assert CLIENT.encode() not in b"".join(path.read_bytes() for path in home.rglob("*") if path.is_file())
