"""The hostile inputs: there are enough of each kind, and what needs no pose model to be judged ends as it should."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from av.error import FFmpegError

from formcheck.core.errors import ClipError
from formcheck.video.reader import ClipReader


@pytest.fixture(scope="module")
def few(_plain_names: None) -> Iterator[None]:
    """Two seconds of pictures instead of nine."""
    import hostile_films

    all_of_them = hostile_films.pictures()
    with pytest.MonkeyPatch.context() as patch:
        import hostile_inputs
        import hostile_scenes
        import hostile_times

        for module in (hostile_films, hostile_inputs, hostile_scenes, hostile_times):
            patch.setattr(module, "pictures", lambda *_args, **_more: all_of_them[:31])
        hostile_films.plain.cache_clear()
        yield
    hostile_films.plain.cache_clear()


def test_there_are_enough(few: None) -> None:
    import hostile_films
    import hostile_inputs
    import hostile_scenes
    import hostile_times

    names = [case.name for case in hostile_inputs.cases()]
    assert len(names) >= 150
    assert len(set(names)) == len(names)
    assert len(hostile_films.coded()) > 25
    assert len(hostile_films.shaped()) > 15
    assert len(hostile_times.timed()) > 10
    assert len(hostile_scenes.scenes()) > 10


def end_of(path: Path) -> str | list[float]:
    """The sentence with which a clip is refused, or the times of its pictures."""
    try:
        with ClipReader(path) as reader:
            return [t for t, _ in reader.pictures()]
    except ClipError as error:
        return str(error)


@pytest.mark.parametrize("kind", ["damaged", "lying", "disguised", "names", "timed"])
def test_each_ends_in_pictures_or_in_one_sentence(few: None, kind: str, tmp_path: Path) -> None:
    import hostile_inputs
    import hostile_scenes
    import hostile_times

    module = {"names": hostile_scenes, "timed": hostile_times}.get(kind, hostile_inputs)
    made = 0
    for number, case in enumerate(getattr(module, kind)()):
        folder = tmp_path / str(number)
        folder.mkdir()
        try:
            clip = case.make(folder)
        except (FFmpegError, OSError):  # an encoder or a name this machine does not have
            continue
        made += 1
        end = end_of(clip)
        if isinstance(end, str):
            assert case.want in ("sentence", "either"), (case.name, end)
            assert case.says in end, (case.name, end)
            assert end.endswith("."), (case.name, end)
            assert end.isprintable(), (case.name, end)
        else:
            assert case.want != "sentence", case.name
            assert len(end) >= 2, case.name
            assert np.all(np.diff(end) > 0), case.name
    assert made >= 10


def test_of_two_tracks_the_larger_picture_is_watched(few: None, tmp_path: Path) -> None:
    import hostile_films
    import hostile_times

    with ClipReader(hostile_times.two_tracks(tmp_path)) as reader:
        assert (reader.width, reader.height) == hostile_films.SIZE
