"""Whole films of awkward kinds are not called damaged: cut without coding anew, odd lengths, odd containers."""

from pathlib import Path

from formcheck.core.errors import FormcheckError
from tests.in_process import track_here
from tests.video.clips import FakeEstimator


def test_no_whole_film_is_called_damaged(tmp_path: Path) -> None:
    from awkward_films import awkward

    films = awkward()
    assert len(films) >= 30
    called = {}
    for number, film in enumerate(films):
        folder = tmp_path / str(number)
        folder.mkdir()
        try:
            damage = track_here(film.make(folder), FakeEstimator).damage
        except FormcheckError as error:
            called[film.name] = str(error)
        else:
            if damage is not None:
                called[film.name] = str(damage)
    assert called == {}
