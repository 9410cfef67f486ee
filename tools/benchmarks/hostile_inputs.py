"""Files made to break formcheck: damaged, lying and disguised ones.

`cases` gives all inputs, those of `hostile_films` and `hostile_scenes` too.
"""

import gzip
import io
import struct
import tarfile
import zipfile
from functools import partial
from pathlib import Path

import numpy as np

from hostile_films import Case, Film, coded, holding, pictures, plain, shaped
from hostile_scenes import names, scenes
from hostile_times import timed

# ---------------------------------------------------------------- damaged


def cut(name: str, share: float, index_first: bool = False) -> Case:
    """Only the first part of a file."""
    title = f"cut at {100 * share:g} %, {'index first' if index_first else name.rpartition('.')[2]}"
    return holding(title, lambda: (d := plain(name, index_first))[: max(1, round(share * len(d)))], "either", name=name)


def flipped(name: str, seed: int, rate: float, first: int | None = None) -> Case:
    """Bits turned over all through the file, or only in its first bytes."""

    def data() -> bytes:
        rng = np.random.default_rng(seed)
        bits = np.unpackbits(np.frombuffer(plain(name, True), dtype=np.uint8))
        reach = len(bits) if first is None else 8 * first
        places = rng.integers(0, reach, max(1, round(rate * reach)))
        bits[places] ^= 1
        return np.packbits(bits).tobytes()

    where = "" if first is None else f" in the first {first} bytes"
    return holding(f"1 bit in {round(1 / rate)} turned{where}, {name} #{seed}", data, "either", name=name)


def zeroed(start: float, end: float) -> Case:
    """A stretch of zeros, as a copy broken off and taken up again leaves."""

    def data() -> bytes:
        whole = bytearray(plain("clip.mp4", True))
        a, b = round(start * len(whole)), round(end * len(whole))
        whole[a:b] = bytes(b - a)
        return bytes(whole)

    return holding(f"zeros from {start:.0%} to {end:.0%}", data, "either")


def damaged() -> list[Case]:
    """Cut off, bits turned, holes."""
    shares = (0.00001, 0.0001, 0.001, 0.01, 0.1, 0.5, 0.9, 0.999)
    return [
        *(cut("clip.mp4", share) for share in shares[2:]),
        *(cut("clip.mp4", share, index_first=True) for share in shares),
        *(cut(name, share) for name in ("clip.mkv", "clip.ts", "clip.avi") for share in (0.0005, 0.3, 0.97)),
        *(flipped(name, seed, 1e-4) for name in ("clip.mp4", "clip.mkv", "clip.ts", "clip.avi") for seed in (1, 2)),
        *(flipped("clip.mp4", seed, 1e-3, first=4096) for seed in (3, 4, 5, 6)),
        flipped("clip.mkv", 7, 1e-2, first=1024),
        flipped("clip.mp4", 8, 1e-2),
        zeroed(0.4, 0.6),
        zeroed(0.0, 0.01),
        holding("the end of one film behind another", lambda: plain() + plain()[-50_000:], "either"),
    ]


# ---------------------------------------------------------------- lies


def patched(title: str, box: bytes, offset: int, value: bytes) -> Case:
    """A field of an mp4 box set to what it is not; `offset` counts from the box's name (ISO/IEC 14496-12)."""

    def data() -> bytes:
        whole = bytearray(plain("clip.mp4", True))
        at = whole.index(box) + offset
        whole[at : at + len(value)] = value
        return bytes(whole)

    return holding(title, data, "either")


def sparse(folder: Path, size: int, head: bytes = b"") -> Path:
    """A file that claims many bytes and takes none on disk."""
    path = folder / "clip.mp4"
    with path.open("wb") as file:
        file.write(head)
        file.truncate(size)
    return path


def spread(folder: Path, hours: float) -> Path:
    """Few pictures over many hours."""
    frames = pictures()[:40]
    times = [k * hours * 3600 / len(frames) for k in range(len(frames))]
    return Film("clip.mkv", ticks=1000).write(folder, frames, times)


def lying() -> list[Case]:
    """Headers that promise more than there is, and clips that last for hours."""
    huge = struct.pack(">I", 0xFFFFFFF0)
    gif = b"GIF89a" + struct.pack("<HHBBB", 65535, 65535, 0, 0, 0)
    image = b"," + struct.pack("<HHHHB", 0, 0, 65535, 65535, 0) + b"\x02\x02\x44\x01\x00"
    ten_hours = struct.pack(">I", 36_000_000)
    return [
        patched("promises 4 thousand million samples", b"stsz", 12, huge),
        patched("promises 4 thousand million chunks", b"stco", 8, huge),
        patched("promises 4 thousand million times", b"stts", 8, huge),
        patched("one sample of 4 GB", b"stsz", 8, huge),
        patched("a box larger than any disk", b"mdat", -4, huge),
        patched("a picture of 65535 × 65535, mp4", b"avc1", 28, b"\xff\xff\xff\xff"),
        patched("says it lasts ten hours", b"mdhd", 20, ten_hours),
        patched("says a second has 36 million ticks", b"mdhd", 16, ten_hours),
        holding("a picture of 65535 × 65535, gif", lambda: gif + 3 * image + b";", "sentence"),
        holding("a picture of 60000 × 60000, avi", _huge_avi, "either"),
        Case("hours long: 20 h in few pictures", lambda f: spread(f, 20), "sentence", "too long"),
        Case("16 minutes at 5 a second", lambda f: Film().write(f, [pictures()[0][::8, ::10]] * 4800,
             [k / 5 for k in range(4800)]), "sentence", "too long"),
        Case("5 GiB of nothing", lambda f: sparse(f, 5 * 1024**3), "sentence", "too large"),
        Case("3 GiB of nothing", lambda f: sparse(f, 3 * 1024**3), "sentence"),
        Case("3 GiB of nothing behind a film's head", lambda f: sparse(f, 3 * 1024**3, plain()[:2000]), "sentence"),
        Case("a folder", lambda f: f, "sentence", "is a folder"),
        Case("a link to itself", _loop, "sentence"),
        Case("a pipe", _pipe, "sentence", "is not a file"),
    ]  # fmt: skip


def _huge_avi() -> bytes:
    data = bytearray(plain("clip.avi"))
    side = struct.pack("<II", 60_000, 60_000)
    for mark, offset in ((b"avih", 40), (b"strf", 12)):
        at = data.index(mark) + offset
        data[at : at + 8] = side
    return bytes(data)


def _loop(folder: Path) -> Path:
    (folder / "clip.mp4").symlink_to(folder / "clip.mp4")
    return folder / "clip.mp4"


def _pipe(folder: Path) -> Path:
    import os

    os.mkfifo(folder / "clip.mp4")
    return folder / "clip.mp4"


# ---------------------------------------------------------------- disguised


def still(kind: str) -> bytes:
    """A still picture of the lifter."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(pictures()[0]).save(out, format=kind)
    return out.getvalue()


def packed(kind: str) -> bytes:
    """The film inside an archive."""
    out = io.BytesIO()
    if kind == "zip":
        with zipfile.ZipFile(out, "w") as archive:
            archive.writestr("clip.mp4", plain())
    else:
        with tarfile.open(fileobj=out, mode="w") as archive_tar:
            entry = tarfile.TarInfo("clip.mp4")
            entry.size = len(plain())
            archive_tar.addfile(entry, io.BytesIO(plain()))
    return out.getvalue()


def sound_only(folder: Path) -> Path:
    """A voice without a picture."""
    import av

    path = folder / "clip.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=16_000, layout="mono")
        for start in range(0, 16_000, 1024):
            frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
            frame.sample_rate, frame.pts = 16_000, start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def disguised() -> list[Case]:
    """Files that are something else."""
    rng = np.random.default_rng(5)
    playlist = b"#EXTM3U\n#EXT-X-VERSION:3\n#EXTINF:10,\nfile:///etc/hostname\n#EXT-X-ENDLIST\n"
    script = b"ffconcat version 1.0\nfile '/etc/hostname'\n"
    return [
        holding("zero bytes", lambda: b"", "sentence", "empty"),
        holding("one byte", lambda: b"\0", "sentence", "not a video"),
        holding("text", lambda: b"four sets of nine\n" * 50, "sentence", "not a video"),
        holding("web page", lambda: b"<!doctype html><script>alert(1)</script>" * 20, "sentence", "not a video"),
        holding("a list that names other files", lambda: playlist, "sentence", "not a video"),
        holding("a script that names other files", lambda: script, "sentence", "not a video"),
        holding("random bytes", lambda: rng.bytes(200_000), "sentence", "not a video"),
        holding("PDF", lambda: b"%PDF-1.7\n" + rng.bytes(20_000), "sentence", "not a video"),
        *(holding(f"{kind} picture", partial(still, kind), "sentence", "is a picture")
          for kind in ("PNG", "JPEG", "GIF", "WEBP", "BMP", "TIFF")),
        holding("zip", lambda: packed("zip"), "sentence", "archive"),
        holding("tar", lambda: packed("tar"), "sentence", "archive"),
        holding("gzip", lambda: gzip.compress(plain()), "sentence", "archive"),
        Case("sound only", sound_only, "sentence", "only sound"),
        Case("one picture in a film", lambda f: Film().write(f, pictures()[:1]), "sentence", "single frame"),
        Case("does not exist", lambda f: f / "nothing.mp4", "sentence", "does not exist"),
    ]  # fmt: skip


def cases() -> list[Case]:
    """All of them."""
    return [*coded(), *shaped(), *timed(), *damaged(), *lying(), *disguised(), *names(), *scenes()]
