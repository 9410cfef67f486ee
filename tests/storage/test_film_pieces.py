"""Films that arrive in pieces: what is taken, what is not, and what is left when the process is killed."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from formcheck.core.atomic_write import STALE_AFTER_S
from formcheck.core.errors import ClipError
from formcheck.storage import film_pieces
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.film_pieces import KEPT_S, QUIET_S, find_film, join_film, keep_piece
from formcheck.video.damage import assess_damage
from formcheck.video.packets import plan_tracking
from formcheck.video.reader import ClipReader
from tests.browser_film import LENGTH_S, cut_fragments, cut_in_pieces, write_film

NAME = "set-" + "0123456789abcdef" * 2
TEST_NAME = "test-" + "0123456789abcdef" * 2


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return write_film(tmp_path_factory.mktemp("film") / "film.mp4").read_bytes()


def send(home: Path, number: int, content: bytes, name: str = NAME) -> None:
    part = home / "piece.part"
    part.write_bytes(content)
    keep_piece(home, name, number, part)


def read(home: Path, name: str = NAME) -> bytes:
    film = find_film(home, name)
    return b"" if film is None else b"".join(piece.read_bytes() for piece in film.pieces)


def test_pieces_become_one_upload(formcheck_home: Path, whole: bytes) -> None:
    for number, piece in enumerate(cut_in_pieces(whole)):
        send(formcheck_home, number, piece)
    film = find_film(formcheck_home, NAME)
    assert film is not None
    assert film.size == len(whole)
    assert film.shown_name.startswith("filmed ")
    assert film.shown_name.endswith(".mp4")
    path = join_film(formcheck_home, film)
    assert path.read_bytes() == whole
    assert path.parent == DataFolder(formcheck_home).clips
    assert find_film(formcheck_home, NAME) is None


@pytest.mark.parametrize(("kind", "pieces"), [("mp4", 3), ("mp4", 5), ("webm", 1)])
def test_what_a_recorder_leaves_out_is_no_damage(formcheck_home: Path, tmp_path: Path, kind: str, pieces: int) -> None:
    """A film of four seconds, and the first two of it: all pictures that are there are read, and none is missed."""
    data = write_film(tmp_path / f"film.{kind}", kind).read_bytes()
    parts = cut_fragments(data) if kind == "mp4" else [data]
    for number, piece in enumerate(parts[:pieces]):
        send(formcheck_home, number, piece)
    film = find_film(formcheck_home, NAME)
    assert film is not None
    clip = join_film(formcheck_home, film)
    with ClipReader(clip) as reader:
        extent = plan_tracking(reader).extent
        times = np.array([t for t, _ in reader.pictures()])
    assert assess_damage(times, reader.lost, reader.backward, extent, clip) is None
    assert times[-1] == pytest.approx((2.0 if kind == "mp4" and pieces == 3 else LENGTH_S) - 0.04, abs=0.01)


@pytest.mark.parametrize("number", [2, 7, film_pieces.MOST_PIECES])
def test_a_piece_out_of_order_is_refused_and_the_rest_stays(formcheck_home: Path, whole: bytes, number: int) -> None:
    first, second, *_ = cut_in_pieces(whole)
    send(formcheck_home, 0, first)
    with pytest.raises(ClipError, match="cannot follow piece 1"):
        send(formcheck_home, number, second)
    assert read(formcheck_home) == first
    send(formcheck_home, 1, second)
    assert read(formcheck_home) == first + second


def test_a_piece_that_comes_twice_changes_nothing(formcheck_home: Path, whole: bytes) -> None:
    first, second, *_ = cut_in_pieces(whole)
    for number, piece in ((0, first), (0, first), (1, second), (0, first)):
        send(formcheck_home, number, piece)
    with pytest.raises(ClipError, match="the first one is kept"):
        send(formcheck_home, 0, second)
    assert read(formcheck_home) == first + second


@pytest.mark.parametrize("content", [b"", b"GIF89a and so on", b"PK\x03\x04 an archive", b"#EXTM3U\n/etc/passwd\n"])
def test_what_is_no_film_is_not_begun(formcheck_home: Path, content: bytes) -> None:
    with pytest.raises(ClipError, match="not the beginning of a film"):
        send(formcheck_home, 0, content)
    assert film_pieces.list_films(formcheck_home) == []


def test_what_only_begins_like_a_film_is_told_and_kept(formcheck_home: Path) -> None:
    content = b"\0\0\0\x18ftypisom" + bytes(100)
    send(formcheck_home, 0, content)
    film = find_film(formcheck_home, NAME)
    assert film is not None
    with pytest.raises(ClipError, match="filmed"):
        join_film(formcheck_home, film)
    assert read(formcheck_home) == content
    assert list(DataFolder(formcheck_home).clips.iterdir()) == []


def test_a_film_lasts_as_long_as_its_pieces_however_late_they_came(formcheck_home: Path, whole: bytes) -> None:
    pieces = [whole[at : at + 400] for at in range(0, 4800, 400)]
    for number, piece in enumerate(pieces):  # all at once, as after a server that was busy
        send(formcheck_home, number, piece)
    film = find_film(formcheck_home, NAME)
    assert film is not None
    assert film.last_at - film.began_at < 12
    assert 12 <= film.length_s < 13
    os.utime(film.pieces[-1], (film.began_at + 20, film.began_at + 20))  # pieces of more than a second
    late = find_film(formcheck_home, NAME)
    assert late is not None
    assert late.length_s == pytest.approx(21, abs=0.1)


@pytest.mark.parametrize("name", ["", "set-1", "../../x", "set-" + "g" * 32, NAME + "/..", NAME.upper()])
def test_a_name_is_one_of_ours_or_nothing_is_found(formcheck_home: Path, name: str) -> None:
    assert find_film(formcheck_home, name) is None


def test_films_go_when_their_time_is_over(formcheck_home: Path, whole: bytes) -> None:
    send(formcheck_home, 0, whole)
    send(formcheck_home, 0, whole, TEST_NAME)
    film = find_film(formcheck_home, NAME)
    assert film is not None
    assert film_pieces.list_unfinished_sets(formcheck_home, film.last_at + QUIET_S / 2) == []
    assert [item.name for item in film_pieces.list_unfinished_sets(formcheck_home, film.last_at + 2 * QUIET_S)] == [
        NAME
    ]
    film_pieces.drop_old_films(formcheck_home, film.last_at + 2 * STALE_AFTER_S)
    assert [item.name for item in film_pieces.list_films(formcheck_home)] == [NAME]
    film_pieces.drop_old_films(formcheck_home, film.last_at + 2 * KEPT_S)
    assert list(DataFolder(formcheck_home).film_pieces.iterdir()) == []


KILLED = """
import json, os, signal, sys
from pathlib import Path
from formcheck.storage import film_pieces
import formcheck.video.reader, av
from tests.browser_film import cut_in_pieces
from tests.storage.test_film_pieces import NAME, send

folder, pieces = Path(sys.argv[1]), cut_in_pieces((Path(sys.argv[1]) / "film.mp4").read_bytes(), 3)
CHANGES = {"os.rename", "os.remove", "os.rmdir", "os.mkdir", "shutil.rmtree"}

def work(home, kill_at, tell):
    steps = 0
    def count(event, arguments):
        # one step further each time something is about to happen in the data folder
        nonlocal steps
        if event in CHANGES or (event == "open" and str(home) in str(arguments[0])):
            steps += 1
            if steps == kill_at:
                os.kill(os.getpid(), signal.SIGKILL)
    sys.addaudithook(count)
    for number, piece in enumerate(pieces):
        send(home, number, piece)
        tell("piece")
    film_pieces.join_film(home, film_pieces.find_film(home, NAME))
    tell("joined")

killed, kill_at = True, 0
while killed:
    kill_at += 1
    home = folder / f"home-{kill_at}"
    home.mkdir()
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        work(home, kill_at, lambda word: os.write(writing, (word + " ").encode()))
        os._exit(0)
    os.close(writing)
    told = b""
    while part := os.read(reading, 4096):
        told += part
    killed = os.WIFSIGNALED(os.waitpid(child, 0)[1])
    print(json.dumps([home.name, told.decode().split(), killed]))
"""


@pytest.mark.skipif(os.name != "posix", reason="needs fork and SIGKILL")
def test_killed_at_any_step_a_film_keeps_what_had_arrived(tmp_path: Path, root: Path, whole: bytes) -> None:
    (tmp_path / "film.mp4").write_bytes(whole)
    command = [sys.executable, "-c", KILLED, str(tmp_path)]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    pieces, ends = cut_in_pieces(whole, 3), [json.loads(line) for line in done.stdout.splitlines()]
    assert [killed for *_, killed in ends] == [True] * (len(ends) - 1) + [False]
    assert len(ends) > 15
    for name, told, _ in ends:
        home = tmp_path / name
        stored = [path.read_bytes() for path in DataFolder(home).clips.glob("*") if path.suffix != ".part"]
        arrived = read(home)
        assert stored in ([], [whole])
        if stored:
            assert arrived in (b"", whole)  # listed once more, where the kill came before it was put away
        else:
            assert len(arrived) >= len(b"".join(pieces[: len(told)]))
            assert whole.startswith(arrived)
        film_pieces.drop_old_films(home, time.time() + 2 * KEPT_S)
        left = DataFolder(home).film_pieces
        assert not left.exists() or list(left.iterdir()) == []
    assert ends[-1][1] == ["piece"] * 3 + ["joined"]
