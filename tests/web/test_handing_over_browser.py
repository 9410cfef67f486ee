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

from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from tests.web.browser_kit import WIDE, assert_page_passes, save_screen, served, settled

pytestmark = [pytest.mark.browser, pytest.mark.pose]
CLIENT = "Ada Example (invented)"
VIDEO = "document.querySelector('.st-key-fc_clip video')"


@pytest.fixture(scope="module")
def home(demo_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the reviewed clips to change at will, review 2 a client's."""
    copy = tmp_path_factory.mktemp("copy") / "home"
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
    opened.set_default_timeout(60_000)
    yield opened
    opened.close()


def stored(home: Path) -> Any:
    with Store.open(home / "reviews.sqlite") as store:
        return store.load_review(2), store.load_original(2), store.revisions_of(2)


def player_stands_at(page: Any, moment: float) -> None:
    """The player tells the moment the clip stands at, to the tenth of a second it shows."""
    for _ in range(300):
        minutes, seconds = page.locator('[data-part="time"]').first.inner_text().split(":")
        if abs(60 * int(minutes) + float(seconds) - moment) <= 0.1:
            return
        page.wait_for_timeout(100)
    pytest.fail(f"the player shows {minutes}:{seconds}, and the clip stands at {moment:.2f} s")


def test_a_rep_is_moved_from_the_clip_seen_kept_and_undone(page: Any, address: str, home: Path) -> None:
    before = stored(home)[0]
    page.goto(f"{address}/?review=2")
    page.get_by_role("link", name="Correct by hand").click()
    page.wait_for_selector(".fc-rep-times", timeout=60_000)  # the review before has a clip too
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
    assert stored(home)[0] == before  # nothing is stored so far
    # the player put in anew shows the moment the clip stands at, and one skeleton
    player_stands_at(page, moment)
    assert page.locator("canvas.fc-skeleton").count() == 1
    assert_page_passes(page, "correct-by-hand")
    player_stands_at(page, moment)
    assert page.locator("canvas.fc-skeleton").count() == 1
    page.get_by_role("button", name="Keep this correction").click()
    page.wait_for_selector(".fc-history", timeout=60_000)
    settled(page)
    after, original, revisions = stored(home)
    assert after.reps[0].by_hand
    assert after.reps[0].start_s == pytest.approx(moment, abs=0.02)
    assert original == before
    assert len(revisions) == 1
    page.get_by_role("link", name="Back to the review").click()
    page.wait_for_selector(".fc-corrected", timeout=60_000)
    page.wait_for_selector(".fc-rep", timeout=120_000)
    page.wait_for_function(f"{VIDEO}?.readyState >= 2", timeout=120_000)
    settled(page)
    save_screen(page, "review-corrected")
    page.get_by_role("link", name="Correct by hand").click()
    page.get_by_role("button", name="Undo the newest correction").click()
    page.wait_for_selector(".fc-history :text('undone')", timeout=60_000)
    assert stored(home)[0] == before


def correcting(page: Any, address: str, kind: str) -> None:
    """The page for corrections, open at one kind of them."""
    page.goto(f"{address}/correct?review=2")
    page.wait_for_function(f"{VIDEO}?.readyState >= 2", timeout=60_000)
    settled(page)
    page.get_by_role("radio", name=kind).or_(page.get_by_role("button", name=kind)).first.click()
    settled(page)


def take(page: Any, name: str, moment: float) -> None:
    """Bring the clip to a moment and take it for a field."""
    page.evaluate(f"{VIDEO}.currentTime = {moment}")
    page.wait_for_function(f"Math.abs({VIDEO}.currentTime - {moment}) < 0.02 && !{VIDEO}.seeking")
    page.get_by_role("button", name=f"{name} = clip now").click()
    page.wait_for_function(
        "([name, wanted]) => Math.abs(parseFloat(document.querySelector(`input[aria-label='${name}, s']`)?.value)"
        " - wanted) < 0.03",
        arg=[name, moment],
        timeout=60_000,
    )
    settled(page)


def store_correction(page: Any, home: Path, corrections: int) -> tuple[Any, Any]:
    """Keep the correction in the making; the review that holds then, and the machine's own."""
    page.wait_for_selector(".fc-effect", timeout=60_000)
    settled(page)
    assert len(stored(home)[2]) == corrections - 1
    page.get_by_role("button", name="Keep this correction").click()
    page.get_by_text(f"Correction {corrections}, kept").wait_for(timeout=60_000)
    settled(page)
    after, original, _ = stored(home)
    return after, original


def undone(page: Any, home: Path, before: Any) -> None:
    """Undo the newest correction: what was there before it holds again."""
    page.get_by_role("button", name="Undo the newest correction").click()
    for _ in range(600):
        if stored(home)[0] == before:
            break
        page.wait_for_timeout(100)
    settled(page)
    assert stored(home)[0] == before


def test_a_rep_is_deleted_and_added_again_from_the_clip(page: Any, address: str, home: Path) -> None:
    before, original, earlier = stored(home)
    correcting(page, address, "Delete a rep")
    page.get_by_role("combobox", name="Rep to delete").click()
    page.get_by_role("option").nth(1).click()
    page.wait_for_selector(".fc-effect", timeout=60_000)
    settled(page)
    assert page.locator(".st-key-fc_reps_now .fc-rep-times tbody tr").count() == len(before.reps) - 1
    save_screen(page, "correct-delete")
    assert stored(home)[0] == before
    without, still = store_correction(page, home, len(earlier) + 1)
    left = [rep.top_s for rep in before.reps if rep.number != 2]
    assert [rep.top_s for rep in without.reps] == pytest.approx(left, abs=2e-3)
    assert still == original

    correcting(page, address, "Add a rep")
    gone = before.reps[1]
    take(page, "Start", gone.start_s)
    take(page, "End", gone.end_s)
    assert page.locator(".st-key-fc_reps_now .fc-rep-times tbody tr").count() == len(before.reps)
    save_screen(page, "correct-add")
    again, still = store_correction(page, home, len(earlier) + 2)
    assert len(again.reps) == len(before.reps)
    assert again.reps[1].by_hand
    assert again.reps[1].top_s == pytest.approx(gone.top_s, abs=0.1)
    assert still == original
    undone(page, home, without)
    undone(page, home, before)


def test_a_part_of_the_clip_is_left_out(page: Any, address: str, home: Path) -> None:
    before, original, earlier = stored(home)
    correcting(page, address, "Leave a part out")
    take(page, "End", (before.reps[0].end_s + before.reps[1].start_s) / 2)
    save_screen(page, "correct-leave-out")
    after, still = store_correction(page, home, len(earlier) + 1)
    assert [rep.top_s for rep in after.reps] == pytest.approx([rep.top_s for rep in before.reps[1:]], abs=0.1)
    assert still == original
    undone(page, home, before)


def says_which(page: Any, exercise: str) -> None:
    """The page names the exercise of the review that holds."""
    page.wait_for_function(
        "name => document.querySelector('.fc-which')?.innerText.startsWith(name)", arg=exercise, timeout=60_000
    )


def test_the_exercise_is_changed(page: Any, address: str, home: Path) -> None:
    before, original, earlier = stored(home)
    correcting(page, address, "Another exercise")
    page.get_by_role("combobox", name="It really was").click()
    page.get_by_role("option", name="Lateral raise to shoulder height", exact=True).click()
    after, still = store_correction(page, home, len(earlier) + 1)
    assert after.exercise.id == "lateral-raise"
    assert still == original
    says_which(page, "Lateral raise to shoulder height")
    save_screen(page, "correct-exercise")
    undone(page, home, before)
    says_which(page, before.exercise.name)


def test_own_limits_show_what_they_would_change_and_can_be_taken_back(page: Any, address: str, home: Path) -> None:
    review = stored(home)[0]
    page.goto(f"{address}/limits?exercise={review.exercise.id}")
    page.wait_for_selector("[data-testid=stExpander]", timeout=60_000)
    settled(page)  # drawn anew, what was opened is closed again
    page.get_by_text("Arms overhead at the top").first.click()
    field = page.get_by_role("spinbutton", name="At least, degrees").first
    field.fill("60")
    field.press("Enter")
    page.wait_for_selector(".fc-changes li", timeout=60_000)
    settled(page)
    text = page.locator(".fc-changes").inner_text()
    assert CLIENT in text
    assert "going well" in text
    assert_page_passes(page, "own-limits")
    page.get_by_role("button", name="Keep these limits").click()
    page.wait_for_selector("[class*=st-key-fc_limits_]", timeout=60_000)
    settled(page)
    with Store.open(home / "reviews.sqlite") as store:
        assert [item.changes["overhead"].limit for item in store.limits_of(review.exercise.id)] == [60.0]
        assert store.limits_of(review.exercise.id)
        assert store.load_review(2) == review  # past reviews stay as they were text
    save_screen(page, "own-limits-kept")
    page.get_by_role("button", name="Back to formcheck’s own limits").click()
    page.wait_for_selector("button:has-text('Bring these back')", timeout=60_000)
    settled(page)
    with Store.open(home / "reviews.sqlite") as store:
        assert not store.limits_of(review.exercise.id)


def saved(page: Any, name: str) -> bytes:
    with page.expect_download(timeout=400_000) as waiting:
        page.get_by_role("button", name=name).click()
    return Path(waiting.value.path()).read_bytes()


def test_a_review_is_taken_along_with_the_face_blurred(page: Any, address: str, home: Path) -> None:
    page.goto(f"{address}/?review=2")
    page.get_by_text("Share: report, film, numbers").click(timeout=120_000)
    page.wait_for_selector("button:has-text('Report (PDF)')", timeout=120_000)
    settled(page)
    sharp = saved(page, "Report (HTML)").decode()
    page.get_by_text("Blur faces in report and clip").click()
    page.get_by_text("can be missed: look through it").wait_for(timeout=60_000)
    settled(page)
    blurred = saved(page, "Report (HTML)").decode()
    assert blurred.count("data:image/jpeg") == sharp.count("data:image/jpeg") > 0
    assert len(blurred) < len(sharp)  # the same pictures with less in them
    found_at = DataFolder(home).artifacts(2).faces.stat().st_mtime_ns
    paper = pdfium.PdfDocument(saved(page, "Report (PDF)"))
    text = " ".join(" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in paper)
    assert "Please read before you train" in text
    assert "±" in text
    assert saved(page, "Numbers (CSV)").decode("utf-8-sig").startswith("rep,")
    assert json.loads(saved(page, "Numbers (JSON)"))
    page.get_by_role("button", name="Draw the skeleton into the clip").click()
    page.wait_for_selector("button:has-text('Clip with skeleton')", timeout=400_000)
    assert saved(page, "Clip with skeleton (MP4)") == (home / "drawn" / "2" / "overlay-covered.mp4").read_bytes()
    assert (
        DataFolder(home).artifacts(2).faces.stat().st_mtime_ns == found_at
    )  # not searched for faces again for the film
    save_screen(page, "take-along-blurred")


def test_a_client_is_exported_whole_and_deleted_whole_after_the_name_is_typed(
    page: Any, address: str, home: Path
) -> None:
    page.goto(f"{address}/hand-over")
    page.get_by_role("combobox", name="Client").click()
    page.get_by_role("option", name=CLIENT).click()
    page.wait_for_selector("button:has-text('Make the export')", timeout=60_000)
    page.get_by_text("Blur faces in every picture and clip").click()
    settled(page)
    assert_page_passes(page, "hand-over")
    page.get_by_role("button", name="Make the export").click()
    page.wait_for_selector("button:has-text('Save the export')", timeout=400_000)
    with zipfile.ZipFile(io.BytesIO(saved(page, "Save the export"))) as archive:
        names = archive.namelist()
        assert {"client.json", "sets.csv"} <= set(names)
        assert any(name.endswith("clip.mp4") for name in names)
        assert any(name.endswith("report.pdf") for name in names)
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
    save_screen(page, "hand-over-delete")
    delete.click()
    page.get_by_text("is deleted:").wait_for(timeout=60_000)
    with Store.open(home / "reviews.sqlite") as store:
        assert not store.list_clients()
        assert [row.id for row in store.list_reviews()] == [1]
    assert not (home / "drawn" / "2").exists()
    assert not list((home / "exports").glob("*"))
    assert CLIENT.encode() not in b"".join(path.read_bytes() for path in home.rglob("*") if path.is_file())
