"""The report: whole in one file, nothing from outside, every string escaped, everything the review says in it."""

import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from formcheck.core.model import Analysis, Measure, Signals
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.report import wording
from formcheck.report.body_marks import make_body_mark
from formcheck.report.figures import KeyPicture, draw_curve, draw_key_pictures, encode_jpeg, find_crop_window
from formcheck.report.phases import choose_signals
from formcheck.report.set_report import render_report
from formcheck.signals.skeleton import INDEX
from tests.facts import says
from tests.web.synthetic import synthetic_analysis, synthetic_recording, without_reps

VOID = {"meta", "img", "br", "hr", "link", "input", "path", "use", "circle", "rect"}
LOADING = {"src", "href", "xlink:href", "srcset", "action", "data", "poster", "background"}


class Reader(HTMLParser):
    """Collects tags, addresses, ids and text, and the places where tags do not close in order."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.wrong.append(f"</{tag}> at {self.getpos()}")

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.text.append(data)


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    return reader


def list_pictures(html: str) -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """The pictures of the first page, which is the first section, and those of the details behind it."""
    end = html.index("</section>")
    front, details = (
        [attributes for tag, attributes in read(part).tags if tag == "img"] for part in (html[:end], html[end:])
    )
    return front, details


def words(reader: Reader) -> str:
    return " ".join(" ".join(reader.text).replace("\u00a0", " ").split())


@pytest.fixture
def analysis() -> Analysis:
    return synthetic_analysis()


@pytest.fixture
def pictures(analysis: Analysis) -> list[KeyPicture]:
    grey = encode_jpeg(np.full((40, 30, 3), 120, np.uint8))
    return [
        KeyPicture(rep.number, "top", rep.top_s, grey, f"Rep {rep.number} at the top") for rep in analysis.review.reps
    ]


@pytest.fixture
def html(analysis: Analysis, pictures: list[KeyPicture]) -> str:
    return render_report(analysis, get_exercise("lateral-raise"), pictures, reviewed_on=date(2026, 11, 5))


def test_tags_close_in_order_and_ids_are_unique(html: str) -> None:
    reader = read(html)
    assert not reader.wrong
    assert not reader.open
    ids = [attributes["id"] for _, attributes in reader.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    inside = {value[1:] for _, attributes in reader.tags for name, value in attributes.items() if name == "href"}
    assert inside <= set(ids)
    assert set(re.findall(r"url\(#([^)]+)\)", html)) <= set(ids)


def test_nothing_is_loaded_from_anywhere(html: str) -> None:
    reader = read(html)
    for tag, attributes in reader.tags:
        assert tag not in ("script", "link", "iframe", "object", "embed", "form", "base")
        for name, value in attributes.items():
            assert name not in LOADING or value.startswith(("data:image/jpeg;base64,", "#")), (tag, name, value[:60])
            assert not name.startswith("on")
    assert "http:" not in html.replace('http-equiv="', "")
    assert "https:" not in html
    assert "@import" not in html
    assert not re.search(r"url\((?!#)", html)
    policy = next(a["content"] for t, a in reader.tags if a.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'")


def test_language_encoding_and_width_are_told(html: str) -> None:
    reader = read(html)
    assert html.startswith("<!DOCTYPE html>")
    assert ("html", {"lang": "en"}) in reader.tags
    assert ("meta", {"charset": "utf-8"}) in reader.tags
    assert any(attributes.get("name") == "viewport" for _, attributes in reader.tags)
    assert "@media print" in html
    assert "size: A4" in html
    assert "prefers-color-scheme: dark" in html


def test_every_rep_finding_and_caution_is_in_it(html: str, analysis: Analysis) -> None:
    text = words(read(html))
    review, exercise = analysis.review, get_exercise("lateral-raise")
    checks = {check.id: check for check in exercise.checks}
    for finding in review.findings:
        assert checks[finding.check].title in text
    assert checks["height"].cue in text
    last = text[text.rindex("Please read before you train") :]
    for caution in review.cautions:
        assert caution in last
    assert wording.describe_caution("the last section of this report") in text
    for rep in review.reps:
        eccentric, bottom, concentric, top = rep.tempo.digits()
        # The pause after the last rep leads to nothing: it is left open.
        assert f"{eccentric}-{'·' if rep is review.reps[-1] else bottom}-{concentric}-{top}" in text
        for side in ("left", "right"):
            measure = review.measure("arm_line_raise_peak", rep=rep.number, side=side)
            assert measure is not None
            assert f"{measure.value:.0f}° ± 4°" in text
        assert f"Rep {rep.number} · top {wording.format_moment(rep.top_s)}" in text
    assert says(text, "Reps 5 and 6", "worst", "highest line of the arm", "68° ± 4°", "rep 6", "right")
    assert "target: 82° or more" in text
    assert f"at {wording.format_moment(review.reps[5].top_s)} in the clip" in text
    assert says(text, "front does not show", "lean")
    assert says(text, "film a set", "from the side")
    assert "Reviewed on 5 Nov 2026" in text
    assert says(text, "left wrist", "hidden", "more light")


def test_findings_come_in_the_order_to_change_not_judged_kept(html: str) -> None:
    text = words(read(html))
    places = [text.index(f" {heading} ") for heading in ("To change", "Going well", "Not seen")]
    assert places == sorted(places)


def test_curves_of_equal_rank_come_in_the_order_of_the_signals(analysis: Analysis) -> None:
    names = ["torso_side_lean", "shin_inclination", "arm_opening", "head_pitch", "arm_flexion", "neck_extension"]
    read = tuple(replace(analysis.review.measures[0], name=f"{name}_max", value=1.0) for name in names)
    for order in (names, names[::-1]):
        t, values = analysis.signals.t, np.ones(len(analysis.signals.t))
        series = {("arm_elevation", "left"): values, **{(name, None): values for name in order}}
        asked = replace(analysis, review=replace(analysis.review, measures=read), signals=Signals(t, series))
        assert choose_signals(asked) == ["arm_elevation", *order[:2]]


def test_pictures_and_curves_are_told_to_those_who_do_not_see_them(html: str, analysis: Analysis) -> None:
    reader = read(html)
    front, details = list_pictures(html)
    # The first page has the cue's picture and a strip of all reps.
    assert len(front) == 1 + len(analysis.review.reps)
    assert len(details) == len(analysis.review.reps)
    assert all(attributes["alt"] for attributes in front + details)
    drawings = [a for tag, a in reader.tags if tag == "svg" and a.get("role") == "img"]
    assert any(
        "upper arm to trunk" in a["aria-label"]
        and says(a["aria-label"], "left from 10° to 92°", "right from 10° to 89°")
        for a in drawings
    )
    assert all(a.get("role") == "img" or a.get("aria-hidden") == "true" for t, a in reader.tags if t == "svg")


@pytest.mark.parametrize(
    "name", ['<img src=x onerror="alert(1)">.mp4', "</title><script>x</script>", "\"'&{{7*7}}{% x %}"]
)
def test_hostile_strings_stay_strings(analysis: Analysis, name: str) -> None:
    review = analysis.review
    hostile = replace(
        review,
        clip=replace(review.clip, name=name),
        exercise=replace(review.exercise, name=name),
        cautions=(name,),
        quality=replace(review.quality, notes=(name,)),
        findings=tuple(replace(item, text=name, basis=name) for item in review.findings),
        measures=(*review.measures, Measure("knee_flexion_mean", "left", 1, None, None, "deg", name)),
    )
    reader = read(render_report(replace(analysis, review=hostile), get_exercise("lateral-raise")))
    assert not reader.wrong
    assert not any(tag in ("script", "img") for tag, _ in reader.tags)
    assert words(reader).count(" ".join(name.split())) >= 5


def test_a_set_without_reps_has_a_report_that_says_how_to_film(analysis: Analysis) -> None:
    reader = read(render_report(without_reps(analysis), get_exercise("lateral-raise")))
    assert not reader.wrong
    text = words(reader)
    assert "No rep of this exercise was found" in text
    assert get_exercise("lateral-raise").filming.advice in text


@pytest.mark.parametrize("exercise", sorted(load_exercises()))
def test_every_exercise_has_a_report(exercise: str, analysis: Analysis) -> None:
    chosen = get_exercise(exercise)
    findings = tuple(
        replace(analysis.review.findings[0], check=check.id, measure=check.measure, limit=check.limit)
        for check in chosen.checks
    )
    review = replace(analysis.review, findings=findings, cautions=("Take care.",))
    text = words(read(render_report(replace(analysis, review=review), chosen)))
    assert all(check.title in text and check.cue in text for check in chosen.checks)


def test_a_drawing_is_well_formed_and_dressed_by_the_page(analysis: Analysis) -> None:
    svg = draw_curve(analysis, "arm_elevation", "wide", "concentric")
    ElementTree.fromstring(svg)
    assert "var(--left)" in svg
    assert "var(--right)" in svg
    assert svg == draw_curve(analysis, "arm_elevation", "wide", "concentric")


@pytest.fixture
def clip(tmp_path: Path, analysis: Analysis) -> Path:
    """A film as long as the made-up set, grey but for a mark that moves with time."""
    import av

    path = tmp_path / "film.mp4"
    info, t = analysis.review.clip, analysis.signals.t
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30, options={"preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = info.width // 4 * 2, info.height // 4 * 2, "yuv420p"
        picture = np.full((stream.height, stream.width, 3), 90, np.uint8)
        for _ in t:
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())
    return path


def test_a_report_has_stills_of_each_rep(analysis: Analysis, clip: Path) -> None:
    pictures = draw_key_pictures(clip, synthetic_recording(analysis), analysis.review.reps)
    front, stills = list_pictures(render_report(analysis, get_exercise("lateral-raise"), pictures))
    assert len(front) == 1 + len(analysis.review.reps)
    assert len(stills) == 2 * len(analysis.review.reps)
    assert len({attributes["src"] for attributes in stills}) > len(analysis.review.reps)


def test_the_skeleton_lies_on_the_still_where_the_landmarks_are(analysis: Analysis, clip: Path) -> None:
    import base64

    import cv2

    recording = synthetic_recording(analysis)
    still = draw_key_pictures(clip, recording, analysis.review.reps[:1])[1]
    assert still.moment == "top"
    data = np.frombuffer(base64.b64decode(still.data_uri.split(",")[1]), np.uint8)
    picture = cv2.imdecode(data, cv2.IMREAD_COLOR)
    left, top, right, _bottom = find_crop_window(recording, analysis.review.reps[:1])
    index = int(np.argmin(np.abs(recording.t - still.at_s)))
    middle = (recording.pixels[index, 11] + recording.pixels[index, 13]) / 2
    x, y = ((middle - (left, top)) * picture.shape[1] / (right - left)).round().astype(int)
    drawn = picture[y - 2 : y + 3, x - 2 : x + 3].astype(int)
    # The film is grey 90 all over, so anything coloured is the skeleton.
    assert np.abs(drawn - 90).max() > 40


def test_a_mark_gives_its_rep_a_still_of_its_moment(analysis: Analysis, clip: Path) -> None:
    recording, reps = synthetic_recording(analysis), analysis.review.reps[-1:]
    check = next(item for item in get_exercise("lateral-raise").checks if item.id == "height")
    mark = make_body_mark(analysis, recording, check, reps[0], "left", "not_met", "71° ± 4°")
    assert mark is not None
    bottom, top, cue = draw_key_pictures(clip, recording, reps, marks=[mark])
    assert [item.moment for item in (bottom, top, cue)] == ["bottom", "top", "cue"]
    assert "71° ± 4°" in cue.alt
    assert cue.at_s == mark.at_s
    assert cue.data_uri != top.data_uri
    # The details show both ends of each rep, as without a mark; the first page shows the mark's moment.
    front, details = list_pictures(render_report(analysis, get_exercise("lateral-raise"), [bottom, top, cue]))
    assert [item["alt"] for item in details] == [bottom.alt, top.alt]
    assert cue.alt in [item["alt"] for item in front]


def test_a_still_holds_all_that_is_drawn_beside_the_lifter(analysis: Analysis, clip: Path) -> None:
    """Arms that hang leave a narrow window, and the stopwatch of a time stands beside the head: it is wholly inside."""
    still, reps = synthetic_recording(analysis), analysis.review.reps[-1:]
    pixels = np.array(still.pixels)
    for side in ("left", "right"):
        for end in ("elbow", "wrist", "pinky", "index", "thumb"):
            pixels[:, INDEX[f"{side}_{end}"]] = pixels[:, INDEX[f"{side}_shoulder"]]
    recording = replace(still, pixels=pixels)
    check = next(item for item in get_exercise("lateral-raise").checks if item.id == "lowering")
    mark = make_body_mark(analysis, recording, check, reps[0], None, "not_met", "1.0 s")
    assert mark is not None
    drawing = mark.draw_at(recording, mark.at_s)
    assert drawing is not None
    xs, ys = zip(*(point for stroke in drawing.strokes for point in stroke.points), strict=True)
    narrow = find_crop_window(recording, reps)
    assert max(xs) > narrow[2] or min(xs) < narrow[0]
    _, top, cue = draw_key_pictures(clip, recording, reps, marks=[mark])
    assert top.ratio == pytest.approx((narrow[2] - narrow[0]) / (narrow[3] - narrow[1]), rel=0.02)
    across, down = max(*xs, narrow[2]) - min(*xs, narrow[0]), max(*ys, narrow[3]) - min(*ys, narrow[1])
    assert cue.ratio == pytest.approx(across / down, rel=0.08)
    assert cue.ratio > across / (down + 40)


def test_an_unseen_lifter_leaves_the_whole_picture(analysis: Analysis) -> None:
    recording = synthetic_recording(analysis)
    unseen = replace(recording, visibility=np.zeros_like(recording.visibility))
    assert find_crop_window(unseen) == (0, 0, recording.clip.width, recording.clip.height)


@pytest.mark.parametrize(
    ("value", "margin", "unit", "name", "text"),
    [
        (92.4, 3.6, "deg", "", "92° ± 4°"),
        (-3.2, 0.2, "deg", "", "−3° ± 1°"),
        (-0.2, None, "deg", "", "0°"),
        (1.24, 0.01, "s", "", "1.2 s ± 0.1 s"),
        (0.87, 0.04, "ratio", "range_share", "87 % ± 4 %"),
        (1.6, 0.111, "ratio", "grip_width", "1.60 ± 0.12"),
        (-1.4142, 0.001, "none", "concentric_smoothness", "−1.41 ± 0.01"),
        (None, None, "deg", "", "not measured"),
        (float("nan"), 1.0, "deg", "", "not measured"),
    ],
)
def test_numbers_with_margins(value: float | None, margin: float | None, unit: str, name: str, text: str) -> None:
    assert wording.format_with_margin(value, margin, unit, name).replace("\u00a0", " ") == text


@pytest.mark.parametrize(
    ("numbers", "total", "text"),
    [
        ((), 0, ""),
        ((3,), 6, "rep 3"),
        ((1,), 1, "rep 1"),
        ((2, 1), 6, "reps 1 and 2"),
        ((1, 3, 5, 6, 7), 9, "reps 1, 3 and 5–7"),
        ((1, 2, 3), 3, "all 3 reps"),
        ((2, 1), 2, "both reps"),
    ],
)
def test_rep_lists(numbers: tuple[int, ...], total: int, text: str) -> None:
    assert wording.format_reps(numbers, total) == text


@pytest.mark.parametrize(("seconds", "text"), [(0.0, "0:00.0"), (4.24, "0:04.2"), (59.96, "1:00.0"), (125.3, "2:05.3")])
def test_moments(seconds: float, text: str) -> None:
    assert wording.format_moment(seconds) == text


def test_the_next_cue_stands_before_the_findings(analysis: Analysis) -> None:
    from formcheck.report.next_cue import choose_next_cue

    exercise = get_exercise("lateral-raise")
    cue = choose_next_cue(analysis.review, exercise)
    assert cue is not None
    text = render_report(analysis, exercise)
    assert text.index("Next cue") < text.index(cue.cue) < text.index("What the set shows")
    nothing = replace(analysis, review=replace(analysis.review, findings=()))
    assert "Next cue" not in render_report(nothing, exercise)


def contrast(one: str, other: str) -> float:
    """Contrast of two colours (WCAG 2.2, definition of relative luminance and contrast ratio)."""
    levels = []
    for colour in (one, other):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        levels.append(0.2126 * red + 0.7152 * green + 0.0722 * blue)
    return (max(levels) + 0.05) / (min(levels) + 0.05)


@pytest.mark.parametrize("paper", [False, True])
def test_each_grade_has_a_heading_with_its_own_words_and_shape(analysis: Analysis, paper: bool) -> None:
    shown = {}
    for grade in wording.SHOWN_ORDER:
        first = analysis.review.findings[0]
        first = replace(first, grade=None if grade == "unseen" else grade, verdict="undecided")
        first = replace(first, value=None) if grade == "unseen" else first
        review = replace(analysis.review, findings=(first,), points=())
        text = render_report(replace(analysis, review=review), get_exercise("lateral-raise"), paper=paper)
        (heading,) = re.findall(rf'<h3 class="{grade}">(.*?)</h3>', text, re.DOTALL)
        assert wording.GRADE_WORDS[grade] in heading
        shown[grade] = heading.replace(wording.GRADE_WORDS[grade], "")
        assert wording.GRADE_NOTES[grade] in text
    assert len(set(shown.values())) == len(wording.SHOWN_ORDER)


def test_the_words_of_grades_can_be_read_on_their_ground() -> None:
    style = (Path(wording.__file__).parent / "templates" / "report.css").read_text(encoding="utf-8")
    for block in re.findall(r":root \{(.*?)\}", style, re.DOTALL)[:2]:
        colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block))
        for name in ("met", "change", "unsure", "ink", "muted"):
            for ground in ("ground", "card", "met-soft", "change-soft", "unsure-soft"):
                assert contrast(colours[name], colours[ground]) >= 4.5, (name, ground)
