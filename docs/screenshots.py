#!/usr/bin/env python3
"""Takes the README's pictures of page and report anew, from the demo: a shipped clip and the invented client.

    python docs/screenshots.py [FOLDER]      into docs/pictures, or into another folder

Needs what `python3 start.py test` installs and a Chromium on the machine; takes about two minutes. Nothing is fetched.
"""

import io
import json
import os
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

from PIL import Image

from formcheck.core.model import Review
from formcheck.report import wording

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.web.browser_kit import opened_browser, served, settled  # noqa: E402  # found only from the project's folder

PICTURES = ROOT / "docs" / "pictures"
CLIP, EXERCISE = ROOT / "clips_demo" / "lateral_raise_front_range_lost.mp4", "lateral-raise"
LOAD_KG, TARGET = 8.0, 8
SIZE = {"width": 1280, "height": 860}
PATIENCE_MS = 300_000
MOMENT_S = 3.2
"""The clip stands here, at the top of its first rep."""
FILM_FROM_S, FILM_TO_S, FILM_RATE = 1.6, 8.2, 6
"""What the short film shows of the clip: its first two reps, and how many pictures a second."""
FILM_WIDTH, FILM_QUALITY = 640, 60
QUALITY = 82
"""Of the WebP files, 0 to 100: text stays sharp and a picture stays near 100 kB."""


def fill(home: Path) -> tuple[int, list[str]]:
    """Review the clip as the page does, and tell the invented client's six weeks; the review's number and words."""
    from formcheck.demo.story import install_story
    from formcheck.jobs import queue, worker
    from formcheck.storage import Store
    from formcheck.storage.data_folder import DataFolder, default_store, recordings_folder

    queue._launch = lambda store, job: None
    request = queue.JobRequest(str(CLIP), CLIP.name, EXERCISE, "auto", LOAD_KG, TARGET)
    job = queue.start_job(request)
    if worker.main([job]) != 0:
        raise SystemExit(str(queue.find_job(job)))
    with Store.open(default_store()) as store:
        number = store.list_reviews(limit=1)[0].id
        install_story(store, recordings_folder(), today=date.today())
        review = store.load_review(number)
    assert DataFolder(home).artifacts(number).report.is_file()
    return number, says(review)


def says(review: Review) -> list[str]:
    """What the pictures show of a review, for the test that holds them against the code."""
    return [wording.summarise(review), *(item.text for item in review.findings if item.verdict == "not_met")]


def take(page: Any, name: str, folder: Path, part: tuple[int, int] | None = None) -> None:
    """Save what the window shows, or of it what lies between two heights in pixels."""
    target = folder / f"{name}.webp"
    shown = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    top, bottom = part or (0, shown.height)
    shown.crop((0, top, shown.width, bottom)).save(target, "WEBP", quality=QUALITY, method=6)
    print(f"{target}: {target.stat().st_size // 1000} kB")


def seek(page: Any, moment: float) -> None:
    """Have the clip stand at this moment."""
    video = "document.querySelector('.st-key-fc_clip video')"
    page.wait_for_function(f"{video}?.readyState >= 2")
    page.evaluate(f"{video}.currentTime = {moment}")
    page.wait_for_function(f"Math.abs({video}.currentTime - {moment}) < 0.05 && !{video}.seeking")
    settled(page)


def film(page: Any, folder: Path) -> None:
    """Save a short film of the page while the clip goes through two reps."""
    pictures = []
    for k in range(int((FILM_TO_S - FILM_FROM_S) * FILM_RATE)):
        seek(page, FILM_FROM_S + k / FILM_RATE)
        whole = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
        pictures.append(whole.resize((FILM_WIDTH, FILM_WIDTH * whole.height // whole.width), Image.Resampling.LANCZOS))
    target = (folder / "film").with_suffix(".webp")
    more = {"save_all": True, "append_images": pictures[1:], "duration": 1000 // FILM_RATE, "loop": 0}
    pictures[0].save(target, "WEBP", quality=FILM_QUALITY, method=6, **more)
    print(f"{target}: {target.stat().st_size // 1000} kB")


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURES
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        os.environ["FORMCHECK_HOME"] = place
        number, words = fill(home)
        from formcheck.storage.data_folder import DataFolder

        with served(home) as address, opened_browser() as browser:
            page = browser.new_page(viewport=SIZE, color_scheme="light")
            page.set_default_timeout(PATIENCE_MS)
            page.goto(f"{address}/?review={number}")
            page.wait_for_selector(".st-key-trend_chart .js-plotly-plot", state="attached")
            film(page, folder)
            seek(page, MOMENT_S)
            take(page, "review", folder)
            page.goto(f"{address}/clients?client=1")
            page.wait_for_selector(".js-plotly-plot", state="attached")
            page.get_by_text("Set 3", exact=True).first.click()
            page.wait_for_function("!document.body.innerText.includes('in set 1 changed')")
            settled(page)
            take(page, "client", folder)
            page.goto(f"{address}/filming")
            page.wait_for_selector(".fc-drawing", state="attached")
            settled(page)
            drawn = page.locator(".fc-drawing").first.bounding_box()
            take(page, "how-to-film", folder, (int(drawn["y"]) - 30, int(drawn["y"] + drawn["height"]) + 10))
            page.goto(DataFolder(home).artifacts(number).report.as_uri())
            page.wait_for_load_state()
            take(page, "report", folder)
            page.close()
    (folder / "shown.json").write_text(json.dumps(words, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
