"""How much may wait, for one visitor and for all, counted with files that nobody writes."""

import io
from typing import Any

import pytest
from starlette.exceptions import HTTPException

from formcheck.web.uploads import MINIMUM_FREE, MOST_FILES, PendingUploads

PLENTY = 10**15


@pytest.fixture
def waiting() -> PendingUploads:
    uploads = PendingUploads(per_visitor=100, in_all=250, free=lambda: PLENTY)
    for visitor in ("a", "b", "c"):
        uploads.admit(visitor)
    return uploads


def bring(uploads: PendingUploads, visitor: str, name: str, size: int) -> None:
    uploads.reserve((visitor, name), size)
    uploads.store_content((visitor, name), io.BytesIO(b"x" * size), size)
    uploads.release((visitor, name))


def refused(uploads: PendingUploads, visitor: str, name: str, size: int) -> int:
    with pytest.raises(HTTPException) as caught:
        uploads.reserve((visitor, name), size)
    assert caught.value.detail.endswith(".")
    return caught.value.status_code


def test_one_visitor_has_a_bound_and_all_together_another(waiting: PendingUploads) -> None:
    """413 Content Too Large, 503 Service Unavailable: RFC 9110."""
    bring(waiting, "a", "1", 60)
    assert refused(waiting, "a", "2", 41) == 413
    bring(waiting, "a", "2", 40)
    bring(waiting, "b", "1", 100)
    assert refused(waiting, "c", "1", 51) == 503
    bring(waiting, "c", "1", 50)
    assert waiting.count_bytes() == 250
    waiting.delete(("b", "1"))
    bring(waiting, "c", "2", 50)


def test_what_is_on_its_way_counts(waiting: PendingUploads) -> None:
    waiting.reserve(("a", "1"), 90)
    assert refused(waiting, "a", "2", 20) == 413
    waiting.release(("a", "1"))
    waiting.reserve(("a", "2"), 20)


def test_the_disk_is_never_filled() -> None:
    """507 Insufficient Storage: RFC 4918."""
    uploads = PendingUploads(free=lambda: MINIMUM_FREE + 100)
    uploads.admit("a")
    assert refused(uploads, "a", "1", 101) == 507
    uploads.reserve(("a", "1"), 60)
    assert refused(uploads, "a", "2", 41) == 507


def test_files_are_counted_too() -> None:
    uploads = PendingUploads(free=lambda: PLENTY)
    uploads.admit("a")
    for number in range(MOST_FILES):
        bring(uploads, "a", str(number), 0)
    assert refused(uploads, "a", "one more", 0) == 503


def test_an_unknown_visitor_is_refused(waiting: PendingUploads) -> None:
    assert refused(waiting, "nobody", "1", 1) == 403


def test_what_is_taken_or_sent_again_is_let_go(waiting: PendingUploads) -> None:
    first, second = io.BytesIO(b"first"), io.BytesIO(b"second")
    waiting.store_content(("a", "1"), first, 5)
    waiting.store_content(("a", "1"), second, 6)
    assert first.closed
    assert waiting.count_bytes() == 6
    assert waiting.open_content(("a", "1")) is second
    waiting.delete(("a", "1"))
    assert second.closed
    assert waiting.open_content(("a", "1")) is None


def test_a_voice_note_is_read_from_where_its_content_waits() -> None:
    """Streamlit's own file of it is empty, as the content is taken out of the request on its way in."""
    from types import SimpleNamespace

    from formcheck.web import uploads

    item: Any = SimpleNamespace(file_id="voice", read=lambda most: b"")
    uploads.WAITING.store_content(("", "voice"), io.BytesIO(b"RIFF and so on"), 14)
    try:
        assert uploads.read_upload(item, 100) == b"RIFF and so on"
        assert uploads.read_upload(item, 4) == b"RIFF"
    finally:
        uploads.WAITING.delete(("", "voice"))
    assert uploads.read_upload(item, 100) == b""
