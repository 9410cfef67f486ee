"""The start page's example: the set of an invented lifter with what came out of it, or the clip to be reviewed."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from streamlit.testing.v1 import AppTest

from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from formcheck.web.review import example
from tests.web.many_sets import picture
from tests.web.synthetic import synthetic_analysis
from tests.web.test_new_clips import clips_in
from tests.web.test_pages import read_page


def named(name: str) -> object:
    whole = synthetic_analysis()
    return replace(whole, review=replace(whole.review, clip=replace(whole.review.clip, name=name)))


def test_the_reviewed_example_is_shown_and_opened(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], formcheck_home: Path
) -> None:
    own = store_review(named("raise_of_my_own.mp4"))
    with Store.open() as store:
        assert example.find_example(store) is None  # no shipped clip
    other = store_review(named("lateral_raise_side_swing.mp4"))
    number = store_review(named(f"{example.CLIP}.mp4"))
    stills = {1: picture(40), 2: picture(50), 3: picture(60), 4: "data:text/html,no picture", 6: picture(70)}
    DataFolder(formcheck_home).artifacts(number).pictures_file.write_text(json.dumps(stills), encoding="utf-8")
    page = open_page()
    assert not page.exception
    text = read_page(page)
    assert [f"Rep {rep}<" in text for rep in (1, 2, 3, 6)] == [True, False, True, True]
    assert "text/html" not in text
    assert "Lift until the hands are as high as the shoulders." in text
    page.button(key="open_example").click().run()
    assert page.query_params["review"] in (str(number), [str(number)])
    with Store.open() as store:
        store.delete_review(number)
        found = example.find_example(store)
    assert found is not None
    assert found.id == other != own


def test_without_stills_the_example_shows_its_cues_numbers(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    store_review(named(f"{example.CLIP}.mp4"), drawn=False)
    page = open_page()
    assert not page.exception
    assert not [part for part in read_page(page).split("<") if part.startswith("figure")]
    (chart,) = (item for item in page.get("plotly_chart"))
    assert "example_trend" in chart.proto.id


def test_without_a_review_the_example_clip_can_be_taken_and_reviewed(
    open_page: Callable[..., AppTest], formcheck_home: Path, launched: list[str]
) -> None:
    page = open_page()
    page.button(key="take_example").click().run()
    assert not page.exception
    assert clips_in(page) == [f"{example.CLIP}.mp4"]
    page.checkbox(key="cautions_read").check().run()
    page.button(key="start").click().run()
    assert not page.exception
    assert len(launched) == 1
    assert page.session_state["formcheck_state"].example is None
