"""Pieces of films sent to the page's server by whom it let in, and by others: what is refused, and what stays."""

import http.client
import os
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from formcheck.core.errors import ClipError
from formcheck.storage import film_pieces
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.film_pieces import find_film
from formcheck.web import arriving_films
from formcheck.web.arriving_films import MOST_FILMS, MOST_PIECE, MOST_S, ROUTE, ArrivingFilms
from formcheck.web.uploads import MINIMUM_FREE, PendingUploads
from tests.browser_film import cut_in_pieces, write_film
from tests.safety.page_client import Answer, Served, serve, visit

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="serves the page as on a Linux machine")


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def page(home: Path) -> Iterator[Served]:
    with serve(home) as served:
        yield served


@pytest.fixture(scope="module")
def pieces(tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    return cut_in_pieces(write_film(tmp_path_factory.mktemp("film") / "film.mp4").read_bytes())


@pytest.fixture
def name() -> str:
    return f"set-{os.urandom(16).hex()}"


def send(
    page: Served, session: str, name: str, number: int, content: bytes, *, told: int | None = None, **headers: str
) -> Answer:
    """Send a piece as the page's own script would; `headers` take the place of its own, empty ones are left out."""
    cookie = page.ask("/_stcore/health").headers["set-cookie"].partition(";")[0]
    own = {"Cookie": cookie, "X-Xsrftoken": cookie.partition("=")[2], "Origin": f"http://127.0.0.1:{page.port}"}
    own |= {"Content-Length": str(len(content) if told is None else told)}
    own |= {key.replace("_", "-"): value for key, value in headers.items()}
    connection = http.client.HTTPConnection("127.0.0.1", page.port, timeout=60)
    try:
        connection.putrequest("PUT", f"/{ROUTE}/{session}/{name}/{number}", skip_host="Host" in own)
        for key, value in own.items():
            if value:
                connection.putheader(key, value)
        connection.endheaders()
        with suppress(BrokenPipeError, ConnectionResetError):  # refused before the end; the answer is there
            connection.send(content)
        answer = connection.getresponse()
        return Answer(answer.status, dict(answer.getheaders()), answer.read())
    finally:
        connection.close()


def arrived(home: Path, name: str) -> bytes:
    film = find_film(home, name)
    return b"" if film is None else b"".join(piece.read_bytes() for piece in film.pieces)


def test_pieces_arrive_in_their_order(page: Served, home: Path, pieces: list[bytes], name: str) -> None:
    with visit(page) as session:
        for number, piece in enumerate(pieces):
            assert send(page, session, name, number, piece).status == 204
    assert arrived(home, name) == b"".join(pieces)
    assert list(DataFolder(home).film_pieces.glob("*.part")) == []


def test_a_foreign_page_sends_nothing(page: Served, home: Path, pieces: list[bytes], name: str) -> None:
    """Cross-site request forgery (CWE-352) and DNS rebinding (CWE-350)."""
    with visit(page) as session:
        for headers in (
            {"X_Xsrftoken": ""},
            {"Cookie": ""},
            {"X_Xsrftoken": "2|00000000|00000000000000000000000000000000|1700000000"},
            {"Origin": "https://evil.example"},
            {"Origin": "null"},
        ):
            answer = send(page, session, name, 0, pieces[0], **headers)
            assert (answer.status, answer.body) == (403, b"Nothing is taken from another page."), headers
        assert send(page, session, name, 0, pieces[0], Host="evil.example").status == 400
        preflight = page.ask(f"/{ROUTE}/{session}/{name}/0", "OPTIONS", Origin="https://evil.example")
        assert "access-control-allow-origin" not in {key.lower() for key in preflight.headers}
    assert arrived(home, name) == b""


def test_nothing_is_taken_from_whom_the_page_has_not_let_in(page: Served, pieces: list[bytes], name: str) -> None:
    for session in ("no-such-visitor", "0" * 36):
        answer = send(page, session, name, 0, pieces[0])
        assert answer.status == 403
        assert answer.body.decode().endswith(".")


def test_a_film_is_gone_on_with_by_who_began_it_alone(page: Served, home: Path, pieces: list[bytes], name: str) -> None:
    with visit(page) as session, visit(page) as another:
        assert send(page, session, name, 0, pieces[0]).status == 204
        for number in (0, 1):
            answer = send(page, another, name, number, pieces[1])
            assert (answer.status, answer.body) == (403, b"This film is being taken by another visitor.")
        assert send(page, session, name, 1, pieces[1]).status == 204
    assert arrived(home, name) == pieces[0] + pieces[1]


def test_order_doubles_and_other_content(page: Served, home: Path, pieces: list[bytes], name: str) -> None:
    with visit(page) as session:
        assert send(page, session, name, 0, b"no film at all").status == 409
        assert send(page, session, name, 1, pieces[1]).status == 410
        assert send(page, session, name, 0, pieces[0]).status == 204
        for number, content, status in ((2, pieces[2], 409), (0, pieces[0], 204), (0, pieces[1], 409)):
            answer = send(page, session, name, number, content)
            assert answer.status == status
            assert status == 204 or answer.body.decode().count(".") == 1
        for odd in (f"{name}/..", "set-1", f"{name}%2f..%2f..", "../../../x"):
            assert send(page, session, odd, 0, pieces[0]).status in (400, 403, 404, 405)
    assert arrived(home, name) == pieces[0]


def test_a_piece_too_large_is_refused(page: Served, home: Path, pieces: list[bytes], name: str) -> None:
    with visit(page) as session:
        assert send(page, session, name, 0, pieces[0]).status == 204
        assert send(page, session, name, 1, b"x", told=MOST_PIECE + 1).status == 413
        large = b"%x\r\n%s\r\n0\r\n\r\n" % (MOST_PIECE + 1, bytes(MOST_PIECE + 1))
        answer = send(page, session, name, 1, large, Content_Length="", Transfer_Encoding="chunked")
        assert (answer.status, answer.body) == (413, b"The piece is larger than it may be.")
    assert arrived(home, name) == pieces[0]
    assert list(DataFolder(home).film_pieces.glob(".*.part")) == []


def test_what_breaks_off_in_a_piece_leaves_the_ones_before(
    page: Served, home: Path, pieces: list[bytes], name: str
) -> None:
    with visit(page) as session:
        assert send(page, session, name, 0, pieces[0]).status == 204
        cookie = page.ask("/_stcore/health").headers["set-cookie"].partition(";")[0]
        connection = http.client.HTTPConnection("127.0.0.1", page.port, timeout=60)
        connection.putrequest("PUT", f"/{ROUTE}/{session}/{name}/1")
        length = str(len(pieces[1]))
        for key, value in (("Cookie", cookie), ("X-Xsrftoken", cookie.partition("=")[2]), ("Content-Length", length)):
            connection.putheader(key, value)
        connection.endheaders()
        connection.send(pieces[1][:100])
        connection.close()
        for _ in range(100):
            if not list(DataFolder(home).film_pieces.glob(".*.part")):
                break
            time.sleep(0.1)
        assert arrived(home, name) == pieces[0]
        assert send(page, session, name, 1, pieces[1]).status == 204
    assert arrived(home, name) == pieces[0] + pieces[1]


def test_an_exposed_page_takes_no_film(tmp_path: Path, pieces: list[bytes], name: str) -> None:
    with serve(tmp_path, "--server.address=0.0.0.0") as exposed, visit(exposed) as session:
        assert send(exposed, session, name, 0, pieces[0]).status == 403
    assert arrived(tmp_path, name) == b""


# ---------------------------------------------------------------- limits, without a server


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = time.time()

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def films(formcheck_home: Path) -> ArrivingFilms:
    uploads = PendingUploads(free=lambda: MINIMUM_FREE + 10**12)
    return ArrivingFilms(uploads, lambda: formcheck_home, Clock())


def keep(films: ArrivingFilms, session: str, name: str, number: int, content: bytes) -> None:
    """As the middleware does it."""
    films.check_piece(session, name, number)
    part = films.home() / "piece.part"
    part.write_bytes(content)
    films.keep_piece(session, name, number, part)


def refused(films: ArrivingFilms, session: str, name: str, number: int, content: bytes) -> int:
    from starlette.exceptions import HTTPException

    with pytest.raises(HTTPException) as caught:
        keep(films, session, name, number, content)
    assert caught.value.detail.endswith(".")
    return caught.value.status_code


def test_a_film_ends_when_its_time_is_over(films: ArrivingFilms, pieces: list[bytes], name: str) -> None:
    keep(films, "a", name, 0, pieces[0])
    clock: Any = films.clock
    clock.now += MOST_S + 60
    assert refused(films, "a", name, 1, pieces[1]) == 413
    assert arrived(films.home(), name) == pieces[0]


def test_a_film_has_a_size_and_so_have_all(
    films: ArrivingFilms, pieces: list[bytes], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(arriving_films.media_files, "UPLOAD_LIMIT_MB", 1)
    keep(films, "a", name, 0, pieces[0])
    assert refused(films, "a", name, 1, bytes(1 << 20)) == 413
    assert arrived(films.home(), name) == pieces[0]
    monkeypatch.setattr(arriving_films, "IN_ALL", len(pieces[0]) - 1)
    assert refused(films, "b", f"test-{'0' * 32}", 0, pieces[0]) == 503


def test_unfinished_films_are_counted(films: ArrivingFilms, pieces: list[bytes]) -> None:
    for number in range(MOST_FILMS):
        keep(films, "a", f"set-{number:032x}", 0, pieces[0])
    assert refused(films, "a", f"set-{MOST_FILMS:032x}", 0, pieces[0]) == 503


def test_the_end_is_believed_of_who_began_it_and_once_all_is_there(
    films: ArrivingFilms, pieces: list[bytes], name: str
) -> None:
    for number, piece in enumerate(pieces[:3]):
        keep(films, "a", name, number, piece)
    with pytest.raises(ClipError, match="another visitor"):
        films.finish("b", name, 3)
    with pytest.raises(ClipError, match="Of 4 pieces of this film 3 have arrived"):
        films.finish("a", name, 4)
    keep(films, "a", name, 3, pieces[3])
    path, shown = films.finish("a", name, 4)
    assert path.read_bytes() == b"".join(pieces)
    assert shown.startswith("filmed ")
    with pytest.raises(ClipError, match="not here"):
        films.finish("a", name, 4)


def test_a_page_that_was_started_anew_asks_for_the_film_from_its_beginning(
    films: ArrivingFilms, pieces: list[bytes], name: str
) -> None:
    """410 Gone (RFC 9110): the browser then sends what it still has under another name."""
    keep(films, "a", name, 0, pieces[0])
    again = ArrivingFilms(films.uploads, films.home, films.clock)
    assert refused(again, "b", name, 1, pieces[1]) == 410
    assert refused(again, "b", name, 0, pieces[0]) == 410
    assert arrived(films.home(), name) == pieces[0]


def test_who_takes_a_film_is_forgotten_with_it(films: ArrivingFilms, pieces: list[bytes], name: str) -> None:
    keep(films, "a", name, 0, pieces[0])
    clock: Any = films.clock
    clock.now += 2 * film_pieces.KEPT_S
    films.drop_old()
    assert arrived(films.home(), name) == b""
    clock.now -= 2 * film_pieces.KEPT_S
    keep(films, "b", name, 0, pieces[0])
