"""Reading a review in a real browser: everything that shows a moment moves the clip, and the clip moves everything."""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from formcheck.core.model import Review
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import get_exercise
from formcheck.report.cue_trend import make_cue_trend
from formcheck.report.next_cue import choose_next_cue
from formcheck.services.drawing import make_film
from formcheck.storage import Store
from formcheck.storage.data_folder import Artifacts
from formcheck.video.browser_playback import rate_playback
from tests.web.browser_kit import CLIPS, NARROW, WIDE, at, save_screen, settled, wait_for_moment

pytestmark = [pytest.mark.browser, pytest.mark.pose]

VIDEO = "document.querySelector('.st-key-fc_clip video')"
CANVAS = "document.querySelector('.st-key-fc_clip canvas.fc-skeleton')"
TREND, CURVE = ".st-key-trend_chart", "[class*=st-key-curve_] .js-plotly-plot"
INK = (
    f"() => {{ const c = {CANVAS}; if (!c || c.hidden || !c.width) return 0;"
    " const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
    " let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n; }"
)


@pytest.fixture(scope="module")
def review(demo_home: Path) -> Review:
    """The review shown: from the front, with sides, partial reps and points to change."""
    with Store.open(demo_home / "reviews.sqlite") as store:
        return store.load_review(2)


@pytest.fixture
def page(demo_address: str, browser: Any) -> Iterator[Any]:
    """The review opened, its clip ready."""
    opened = browser.new_page(viewport=WIDE)
    opened.goto(f"{demo_address}/?review=2")
    wait_for_the_set(opened)
    yield opened
    opened.close()


def wait_for_the_set(page: Any) -> None:
    page.wait_for_selector(f"{TREND} .js-plotly-plot", timeout=60_000)
    page.wait_for_function(f"{VIDEO}?.readyState >= 2", timeout=60_000)
    settled(page)


def open_curves(page: Any) -> None:
    page.get_by_text("The movement over time").click()
    page.wait_for_selector(f"{CURVE} .plotly", timeout=30_000)
    settled(page)


def picture_point(page: Any, x: float, y: float) -> tuple[float, float]:
    """Where a pixel of the clip's picture is on the page."""
    place = f"([x, y]) => {{ const v = {VIDEO}; const box = v.getBoundingClientRect(); "
    place += "return [box.left + x / v.videoWidth * box.width, box.top + y / v.videoHeight * box.height]; }"
    found = page.evaluate(place, [x, y])
    return float(found[0]), float(found[1])


def cursor_moment(page: Any) -> float:
    """The moment the line through the first curve stands at, read back from its pixels."""
    return float(
        page.evaluate(
            "() => { const plot = document.querySelector('[class*=st-key-curve_] .js-plotly-plot');"
            " const line = plot.querySelector('.fc-cursor'); const size = plot._fullLayout._size;"
            " return plot._fullLayout.xaxis.p2l(parseFloat(line.style.left) - size.l); }"
        )
    )


def test_a_click_on_a_rep_a_finding_or_the_cue_moves_clip_and_cursor(page: Any, review: Review) -> None:
    frame = 1 / review.clip.frame_rate
    rep = review.reps[3]
    page.locator(f".fc-rep[data-rep='{rep.number}']").click()
    wait_for_moment(page, shown_at(page, rep.number))
    assert rep.start_s <= shown_at(page, rep.number) <= rep.end_s
    page.wait_for_selector(f".fc-rep.fc-current[data-rep='{rep.number}']")
    page.wait_for_function(
        f"Math.abs({VIDEO}.currentTime - {shown_at(page, rep.number)}) < {frame} && !{VIDEO}.seeking"
    )
    open_curves(page)
    page.wait_for_timeout(500)
    assert cursor_moment(page) == pytest.approx(at(page), abs=frame)
    for place in (".fc-next .fc-seek", ".fc-finding .fc-seek:visible"):
        button = page.locator(place).first
        button.click()
        wait_for_moment(page, float(button.get_attribute("data-t")))


def shown_at(page: Any, rep: int) -> float:
    """The moment that the card of a rep leads to."""
    return float(page.locator(f".fc-rep[data-rep='{rep}']").get_attribute("data-t"))


def test_a_click_on_the_trend_shows_that_rep_with_its_angle(page: Any, review: Review) -> None:
    plot = page.locator(f"{TREND} .js-plotly-plot")
    box = plot.locator(".nsewdrag").first.bounding_box()
    first, last = plot.evaluate("plot => plot._fullLayout.xaxis.range")
    for rep in (2, len(review.reps)):
        page.mouse.click(box["x"] + box["width"] * (rep - first) / (last - first), box["y"] + 20)
        wait_for_moment(page, shown_at(page, rep))
        page.wait_for_selector(f".fc-rep.fc-current[data-rep='{rep}']")


def test_a_click_on_a_curve_or_on_the_timeline_moves_the_clip(page: Any, review: Review) -> None:
    open_curves(page)
    plot = page.locator(CURVE).first
    plot.scroll_into_view_if_needed()
    first, last = plot.evaluate("plot => plot._fullLayout.xaxis.range")
    box = plot.locator(".nsewdrag").first.bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.4)
    wait_for_moment(page, (first + last) / 2, rate=10.0)
    timeline = page.get_by_role("slider", name="Moment in the clip")
    timeline.scroll_into_view_if_needed()
    box = timeline.bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.25, box["y"] + box["height"] * 0.6)
    wait_for_moment(page, review.clip.duration_s * 0.25, rate=8.0)
    moment = at(page)
    inside = any(rep.start_s <= moment <= rep.end_s for rep in review.reps)
    assert (f"of {len(review.reps)}" if inside else "between") in timeline.get_attribute("aria-valuetext")


def test_the_skeleton_follows_the_picture_and_can_be_put_away(page: Any, review: Review) -> None:
    page.wait_for_function(f"({INK})() > 500")
    page.locator(".fc-rep").nth(1).click()
    wait_for_moment(page, shown_at(page, 2))
    page.wait_for_timeout(400)
    raised = page.evaluate(f"{CANVAS}.toDataURL()")
    page.keyboard.press("p")
    page.wait_for_function(f"Math.abs({VIDEO}.currentTime - {review.reps[1].start_s}) < 0.1")
    page.wait_for_function(f"before => {CANVAS}.toDataURL() !== before", arg=raised)
    page.get_by_role("button", name="Skeleton", exact=True).click()
    page.wait_for_function(f"({INK})() === 0")
    page.get_by_role("button", name="Skeleton", exact=True).click()
    page.wait_for_function(f"({INK})() > 500")


def test_the_angle_is_drawn_at_its_moment_alone_and_can_be_put_away(page: Any, review: Review) -> None:
    page.get_by_role("button", name="Skeleton", exact=True).click()
    page.locator(".fc-next .fc-seek").click()
    page.wait_for_function(f"({INK})() > 300")
    page.keyboard.press("a")
    page.wait_for_function(f"({INK})() === 0")
    assert page.get_by_role("button", name="Angles").get_attribute("aria-pressed") == "false"
    page.keyboard.press("a")
    page.wait_for_function(f"({INK})() > 300")
    page.keyboard.press("p")
    page.wait_for_function(f"({INK})() === 0")
    page.get_by_role("button", name="Skeleton", exact=True).click()


def test_the_film_follows_the_lifter_and_shows_the_whole_picture_when_asked(page: Any, review: Review) -> None:
    frame = page.locator(".st-key-fc_clip .stElementContainer").bounding_box()
    page.locator(".fc-rep").first.click()
    wait_for_moment(page, shown_at(page, 1))
    page.wait_for_timeout(500)
    height = review.quality.subject_height_px
    assert height is not None
    shown = picture_point(page, 0, height)[1] - picture_point(page, 0, 0)[1]
    assert shown / frame["height"] >= 0.6
    page.keyboard.press("w")
    page.wait_for_timeout(500)
    left, top = picture_point(page, 0, 0)
    right, bottom = picture_point(page, review.clip.width, review.clip.height)
    assert left >= frame["x"] - 1
    assert top >= frame["y"] - 1
    assert right <= frame["x"] + frame["width"] + 1
    assert bottom <= frame["y"] + frame["height"] + 1
    page.keyboard.press("w")


def test_large_is_the_film_with_controls_ribbon_and_angles(page: Any) -> None:
    page.locator(".fc-next .fc-seek").click()
    page.get_by_role("button", name="Large").click()
    page.wait_for_function("document.fullscreenElement?.classList.contains('st-key-fc_viewer')")
    page.wait_for_timeout(600)
    film = page.locator(".st-key-fc_clip .stElementContainer").bounding_box()
    assert film["width"] >= WIDE["width"] - 2
    assert film["height"] >= 0.6 * WIDE["height"]
    for name in ("Play", "Next rep"):
        box = page.get_by_role("button", name=name, exact=True).bounding_box()
        assert film["y"] + film["height"] <= box["y"] <= WIDE["height"] - 20
    ribbon = page.get_by_role("slider", name="Moment in the clip").bounding_box()
    assert ribbon["width"] > 0.9 * WIDE["width"]
    page.wait_for_function(f"({INK})() > 3000")
    page.keyboard.press("f")
    page.wait_for_function("!document.fullscreenElement")


def test_all_is_told_with_every_number_hidden(page: Any, review: Review) -> None:
    """What is asked for is drawn otherwise than what is: without the text the drawing still differs from the bones."""
    page.evaluate("CanvasRenderingContext2D.prototype.fillText = () => {}")
    page.locator(".fc-next .fc-seek").click()
    page.wait_for_timeout(600)
    with_angle = page.evaluate(INK)
    page.keyboard.press("a")
    page.wait_for_timeout(400)
    assert with_angle > page.evaluate(INK) + 500
    page.keyboard.press("a")


def test_a_rep_is_repeated_slowly(page: Any, review: Review) -> None:
    rep = review.reps[2]
    page.locator(f".fc-rep[data-rep='{rep.number}']").click()
    wait_for_moment(page, shown_at(page, rep.number))
    page.get_by_role("button", name="½ speed").click()
    assert page.evaluate(f"{VIDEO}.playbackRate") == 0.5
    page.get_by_role("button", name="Repeat rep").click()
    assert page.get_by_role("button", name="Repeat rep").get_attribute("aria-pressed") == "true"
    page.get_by_role("button", name="1 full speed").click()
    page.evaluate(
        f"() => {{ window.seen = []; const v = {VIDEO}; setInterval(() => window.seen.push(v.currentTime), 20); }}"
    )
    page.wait_for_function("() => window.seen.some((t, i) => i && t < window.seen[i - 1] - 0.3)", timeout=20_000)
    seen = page.evaluate("window.seen")
    spare = 0.25  # a busy machine is late by some pictures
    assert min(seen) >= rep.start_s - spare
    assert max(seen) <= rep.end_s + spare


def test_keys_step_and_switch_but_never_while_typing(page: Any, review: Review) -> None:
    frame = 1 / review.clip.frame_rate
    page.locator(".fc-rep").nth(2).click()
    wait_for_moment(page, shown_at(page, 3))
    page.evaluate("document.activeElement.blur()")
    before = at(page)
    page.keyboard.press("ArrowRight")
    wait_for_moment(page, before + frame, rate=2.5 / frame)
    page.wait_for_function(f"{VIDEO}.currentTime > {before}")
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(f"Math.abs({VIDEO}.currentTime - {before}) < {frame / 2}")
    page.keyboard.press("s")
    assert page.evaluate(f"{VIDEO}.playbackRate") == 0.5
    page.keyboard.press(" ")
    page.wait_for_function(f"!{VIDEO}.paused")
    page.keyboard.press(" ")
    page.wait_for_function(f"{VIDEO}.paused")

    page.get_by_text("All numbers, rep by rep").click()
    box = page.get_by_role("combobox", name="Number")
    box.click()
    box.press_sequentially("sob")
    assert page.evaluate(f"{VIDEO}.playbackRate") == 0.5
    page.keyboard.press("Escape")

    page.get_by_text("Keys", exact=True).click()
    page.get_by_text("Keys work anywhere").click()
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("s")
    assert page.evaluate(f"{VIDEO}.playbackRate") == 0.5
    save_screen(page, "reading-keys")


def test_every_number_says_what_it_is_and_where_it_comes_from(page: Any, review: Review) -> None:
    exercise = get_exercise(review.exercise.id)
    trend = make_cue_trend(review, exercise, choose_next_cue(review, exercise))
    assert trend is not None
    assert "±" in page.locator(".fc-rep .fc-values").first.inner_text()
    page.locator(".fc-trend .fc-what").hover()
    tip = page.get_by_role("tooltip")
    tip.wait_for()
    text = tip.inner_text()
    assert MEASURES[trend.check.measure].meaning in text
    assert "body points" in text
    assert "95 of 100" in text
    page.keyboard.press("Escape")
    tip.wait_for(state="hidden")
    name = page.locator(".fc-trend .fc-what").first
    name.focus()
    tip.wait_for()
    assert name.get_attribute("aria-describedby") == "fc-tip"


def test_on_a_telephone_the_film_stays_in_sight_and_the_page_where_it_is(
    demo_address: str, browser: Any, review: Review
) -> None:
    page = browser.new_page(viewport=NARROW, has_touch=True, is_mobile=True)
    try:
        page.goto(f"{demo_address}/?review=2")
        wait_for_the_set(page)
        whole = page.locator(".st-key-fc_clip .stElementContainer").bounding_box()["height"]
        last = len(review.reps)
        page.get_by_text("All numbers, rep by rep").scroll_into_view_if_needed()
        left = page.evaluate("document.querySelector('.stMain').scrollTop")
        page.evaluate(f"document.querySelector('.fc-rep[data-rep=\\'{last}\\']').click()")
        wait_for_moment(page, shown_at(page, last))
        page.wait_for_timeout(500)
        film = page.locator(".st-key-fc_clip .stElementContainer").bounding_box()
        assert 0 <= film["y"] < 120
        assert 100 < film["height"] < whole <= 0.4 * NARROW["height"]
        assert page.evaluate("document.querySelector('.stMain').scrollTop") == pytest.approx(left, abs=5)
        play = page.get_by_role("button", name="Play", exact=True).bounding_box()
        assert NARROW["height"] - 110 < play["y"] < NARROW["height"]
        page.get_by_role("button", name="More controls").tap()
        page.get_by_role("button", name="Whole picture").tap()
        assert page.get_by_role("button", name="Whole picture").get_attribute("aria-pressed") == "true"
        # Where the browser gives no full screen, the film lies over the whole page.
        page.evaluate("Element.prototype.requestFullscreen = undefined")
        page.get_by_role("button", name="Large").tap()
        page.wait_for_timeout(500)
        covers = "([x, y]) => Boolean(document.elementFromPoint(x, y)?.closest('.st-key-fc_viewer.fc-large'))"
        for place in ([8, 8], [200, 30], [200, 400], [200, NARROW["height"] - 20]):
            assert page.evaluate(covers, place), place
    finally:
        page.close()


@pytest.mark.parametrize(
    ("ending", "codec", "format_"), [("mov", "libx265", "yuv420p10le"), ("avi", "mpeg4", "yuv420p")]
)
def test_what_no_browser_plays_is_made_playable_with_its_own_times(
    tmp_path: Path, browser: Any, ending: str, codec: str, format_: str
) -> None:
    import av

    clip = tmp_path / f"set.{ending}"
    with av.open(str(clip), "w") as out, av.open(str(CLIPS / "lateral_raise_side_swing.mp4")) as source:
        stream = out.add_stream(codec, rate=25, options={"preset": "ultrafast"} if codec == "libx265" else {})
        stream.width, stream.height, stream.pix_fmt = 320, 568, format_
        for index, picture in enumerate(source.decode(video=0)):
            if index == 50:
                break
            small = picture.reformat(width=320, height=568, format=format_)
            small.pts, small.time_base = index, Fraction(1, 25)
            out.mux(stream.encode(small))
        out.mux(stream.encode())
    assert rate_playback(clip) == "not"
    drawn = Artifacts(tmp_path)
    assert drawn.film_wanted
    make_film(drawn, clip, 25.0)
    assert not drawn.film_wanted
    assert drawn.playable(str(clip)) == drawn.film
    with av.open(str(drawn.film)) as film:
        times = [float(picture.pts * picture.time_base) for picture in film.decode(video=0)]
    assert times == pytest.approx([index / 25 for index in range(50)], abs=1e-4)
    (tmp_path / "look.html").write_text(f'<video src="{drawn.film.name}" muted></video>')
    page = browser.new_page()
    page.goto(f"file://{tmp_path / 'look.html'}")
    page.wait_for_function("document.querySelector('video').readyState >= 2")
    assert page.evaluate("document.querySelector('video').duration") == pytest.approx(2.0, abs=0.06)
    page.close()
