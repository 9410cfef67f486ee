"""Exercise files of the data folder, on the page: to choose from, one that is bad, one that is gone."""

from collections.abc import Callable
from dataclasses import replace

from streamlit.testing.v1 import AppTest

from formcheck.core.model import ExerciseRef
from formcheck.storage.data_folder import own_exercises_folder
from tests.own_exercise import ID, NAME, write_own
from tests.web.synthetic import synthetic_analysis


def test_an_own_exercise_is_among_those_to_choose(open_page: Callable[..., AppTest]) -> None:
    write_own(own_exercises_folder())
    page = open_page().switch_page("formcheck/web/pages/how_to_film.py").run()
    assert not page.exception
    assert NAME in page.selectbox(key="film_exercise").options


def test_a_bad_file_hides_nothing(open_page: Callable[..., AppTest]) -> None:
    write_own(own_exercises_folder(), exercise_id="bad-raise", height='"high"')
    page = open_page().switch_page("formcheck/web/pages/how_to_film.py").run()
    assert not page.exception
    assert "Lateral raise to shoulder height" in page.selectbox(key="film_exercise").options


def test_a_review_whose_exercise_file_is_gone_opens(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    analysis = synthetic_analysis()
    number = store_review(replace(analysis, review=replace(analysis.review, exercise=ExerciseRef(ID, NAME))))
    page = open_page(review=str(number))
    assert not page.exception
    told = [item.value.replace("\\", "") for item in page.warning]
    assert any(f"{ID}.toml" in text for text in told), told
