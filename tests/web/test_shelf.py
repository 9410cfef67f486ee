"""Uploads: named by their checksum, bounded, never half there."""

import hashlib
import io
from pathlib import Path

import pytest

from formcheck.core.errors import ClipError
from formcheck.storage.data_folder import Artifacts
from formcheck.storage.media_files import check_clip, store_upload
from formcheck.web.layout import escape_markdown


def test_an_upload_is_kept_under_its_checksum(tmp_path: Path) -> None:
    content = b"some bytes" * 300_000
    path = store_upload(tmp_path, io.BytesIO(content))
    assert path.name == hashlib.sha256(content).hexdigest()
    assert path.read_bytes() == content
    assert store_upload(tmp_path, io.BytesIO(content)) == path
    assert len(list((tmp_path / "clips").iterdir())) == 1


def test_an_upload_over_the_limit_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(ClipError, match="larger than 1 MB"):
        store_upload(tmp_path, io.BytesIO(bytes((1 << 20) + 1)), limit_mb=1)
    assert not list((tmp_path / "clips").iterdir())


def test_an_upload_that_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    class Broken(io.BytesIO):
        def read(self, size: int | None = -1, /) -> bytes:
            raise OSError(5, "gone")

    with pytest.raises(OSError, match="gone"):
        store_upload(tmp_path, Broken())
    assert not list((tmp_path / "clips").iterdir())


def test_the_sentence_about_a_bad_clip_names_what_the_user_knows(tmp_path: Path) -> None:
    path = store_upload(tmp_path, io.BytesIO(b"PK\x03\x04 an archive"))
    with pytest.raises(ClipError, match='^"../my\nset.zip" is an archive'.replace("\n", " ")):
        check_clip(path, "../my\nset.zip")
    assert not path.exists()


@pytest.mark.parametrize("text", ["", "[]", "not json", '{"one": 1}'])
def test_damaged_pictures_are_no_pictures(tmp_path: Path, text: str) -> None:
    (tmp_path / "pictures.json").write_text(text)
    assert Artifacts(tmp_path).top_pictures() == {}


def test_text_is_left_alone_by_markdown() -> None:
    # CommonMark 0.31, 2.4: a backslash before ASCII punctuation makes it literal.
    assert escape_markdown("a *b* [c](d)\n$e$ <f>") == r"a \*b\* \[c\]\(d\) \$e\$ \<f\>"
