"""The PDF report, read back with a reader that is not ours (PDFium)."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest

from formcheck.core.model import Analysis
from formcheck.exercises.registry import get_exercise, list_general_cautions
from formcheck.report import wording
from formcheck.report.figures import KeyPicture, encode_jpeg
from formcheck.report.set_report import render_pdf
from tests.web.synthetic import synthetic_analysis, without_reps

EXERCISE = get_exercise("lateral-raise")


def pages_of(data: bytes) -> list[str]:
    """The text of every page, spaces and line ends made one."""
    document = pdfium.PdfDocument(data)
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


@pytest.fixture(scope="module")
def stills() -> list[KeyPicture]:
    """Both moments of every rep, in pictures wider than high."""
    picture = encode_jpeg(np.full((160, 300, 3), (200, 30, 30), dtype=np.uint8))
    reps = synthetic_analysis().review.reps
    return [
        KeyPicture(rep.number, moment, at_s, picture, "")
        for rep in reps
        for moment, at_s in (("bottom", rep.start_s), ("top", rep.top_s))
    ]


def test_it_says_what_the_review_says_with_margins_and_cautions(stills: list[KeyPicture]) -> None:
    analysis = synthetic_analysis()
    text = " ".join(pages_of(render_pdf(analysis, EXERCISE, stills)))
    review = analysis.review
    for wanted in (review.exercise.name, wording.summarise(review), "Next cue", *review.cautions):
        assert " ".join(wanted.split()) in text
    last = text[text.rindex("Please read before you train") :]
    assert all(" ".join(caution.split()) in last for caution in list_general_cautions())
    for check in EXERCISE.checks:
        if any(item.check == check.id for item in review.findings):
            assert check.title in text
    for side, degrees in (("left", 92), ("right", 89)):
        assert f"{side} {degrees}° ± 4°" in text
    assert "never a diagnosis" in text


def test_every_page_carries_its_number_and_nothing_is_cut_at_the_edge(stills: list[KeyPicture]) -> None:
    data = render_pdf(synthetic_analysis(), EXERCISE, stills)
    document = pdfium.PdfDocument(data)
    for number, (page, text) in enumerate(zip(document, pages_of(data), strict=True), 1):
        assert re.findall(r"\bpage (\d+)\b", text) == [str(number)]
        dark = np.asarray(page.render(scale=1).to_numpy())[..., :3].min(axis=2) < 250
        assert not dark[:20].any()
        assert not dark[-20:].any()
        assert not dark[:, :20].any()
        assert not dark[:, -20:].any()


def test_the_pictures_are_in_it(stills: list[KeyPicture]) -> None:
    def red(data: bytes) -> int:
        pages = [np.asarray(page.render(scale=1).to_numpy())[..., :3].astype(int) for page in pdfium.PdfDocument(data)]
        return sum(int((np.abs(page - (30, 30, 200)).max(axis=2) < 12).sum()) for page in pages)

    assert red(render_pdf(synthetic_analysis(), EXERCISE, stills)) > len(stills) * 1000
    assert red(render_pdf(synthetic_analysis(), EXERCISE)) == 0


def renamed(analysis: Analysis, name: str) -> Analysis:
    return replace(analysis, review=replace(analysis.review, clip=replace(analysis.review.clip, name=name)))


@pytest.mark.parametrize("name", ["<b>x</b> & <para>.mp4", "Ćwiczenie Ωμέγα Тест.mp4", "a\x00b\x1b[31m.mp4", "w" * 400])
def test_a_name_is_text_whatever_is_in_it(name: str) -> None:
    first = pages_of(render_pdf(renamed(synthetic_analysis(), name), EXERCISE))[1]
    if len(name) > 50:
        assert "w" * 20 in first
    elif name.isprintable():
        assert name in first
    else:
        assert "[31m.mp4" in first
        assert first.isprintable()


def test_a_set_without_reps_has_a_report_too() -> None:
    text = " ".join(pages_of(render_pdf(without_reps(synthetic_analysis()), EXERCISE)))
    assert "No rep of this exercise was found" in text
    assert EXERCISE.filming.advice.split(".")[0] in text


def test_what_was_corrected_by_hand_is_said() -> None:
    analysis = synthetic_analysis()
    told = replace(analysis, review=replace(analysis.review, by_hand=("Rep 2 was deleted.",)))
    assert "Rep 2 was deleted." in pages_of(render_pdf(told, EXERCISE))[1]


def test_the_same_review_gives_the_same_bytes(tmp_path: Path) -> None:
    assert render_pdf(synthetic_analysis(), EXERCISE) == render_pdf(synthetic_analysis(), EXERCISE)
