"""What a coach drew lies on the picture of its moment where it was drawn, and stands in the report behind page one."""

import base64
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from formcheck.coaching.comment import CoachComment
from formcheck.exercises.registry import get_exercise
from formcheck.report.comment_pictures import draw_comment_pictures, draw_strokes
from formcheck.report.front_page import SetContext
from formcheck.report.set_report import render_report
from tests.report.test_html import read, words
from tests.web.synthetic import synthetic_analysis, synthetic_recording
from tests.web.test_at_moment import write_clip

ANALYSIS = synthetic_analysis()
SAID = (CoachComment("Of the whole set."), CoachComment("Here.", 3.0, (((100.0, 540.0), (500.0, 540.0)),)))


def test_a_stroke_lies_where_it_was_drawn_with_a_dark_rim() -> None:
    picture = draw_strokes(np.full((400, 400, 3), 128, np.uint8), [((20.0, 100.0), (180.0, 100.0))], scale=2.0)
    red, _, blue = picture[200, 200].astype(int)
    assert red > 200 > 120 > blue
    column = picture[:, 200].astype(int).sum(axis=1)
    assert column.min() < 2 * 128  # the rim
    assert (column != 3 * 128).sum() < 20  # nothing else is touched


def test_it_is_in_the_report_with_its_words(tmp_path: Path) -> None:
    clip = tmp_path / "set.mp4"
    write_clip(clip)
    drawings = draw_comment_pictures(clip, synthetic_recording(ANALYSIS), SAID)
    assert list(drawings) == [1]
    data = np.frombuffer(base64.b64decode(drawings[1].data_uri.split(",")[1]), np.uint8)
    picture = cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB).astype(int)
    height, width = picture.shape[:2]
    assert width / height == pytest.approx(608 / 1080, abs=0.01)
    red, _, blue = picture[height // 2, width // 2]
    assert red > blue + 60
    context = SetContext(comments=SAID, drawings=drawings)
    html = render_report(ANALYSIS, get_exercise("lateral-raise"), context=context)
    behind = html[html.index('id="details"') :]
    assert drawings[1].data_uri in behind
    assert "All your coach says" in words(read(behind))
    plain = replace(context, comments=SAID[:1], drawings={})
    assert "All your coach says" not in render_report(ANALYSIS, get_exercise("lateral-raise"), context=plain)
