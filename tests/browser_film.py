"""A film as a browser's recorder writes it: in fragments, with no length, no index and no end in its header.

What is left out is laid down by the formats: ISO/IEC 14496-12, 8.8 (movie fragments: a ``moov`` box without samples,
and no ``mehd`` box); RFC 9559, 24 (a live WebM file: segment and clusters of unknown size, no Duration, no Cues).
"""

from fractions import Fraction
from pathlib import Path

import av
import numpy as np

LENGTH_S, RATE = 4.0, 25
_KINDS = {
    "mp4": ("mp4", "libx264", {"movflags": "frag_keyframe+empty_moov+default_base_moof"}),
    "webm": ("webm", "libvpx", {"live": "1"}),
}


def write_film(path: Path, kind: str = "mp4") -> Path:
    """Four seconds of film, a key picture each."""
    container_name, codec, options = _KINDS[kind]
    with av.open(str(path), "w", format=container_name, options=options) as container:
        stream = container.add_stream(codec, rate=RATE)
        stream.width, stream.height, stream.pix_fmt = 64, 96, "yuv420p"
        stream.codec_context.thread_count = 1
        stream.options = {"g": str(RATE)} | (
            {"deadline": "realtime", "cpu-used": "8"} if kind == "webm" else {"sc_threshold": "0"}
        )
        for index in range(round(LENGTH_S * RATE)):
            picture = np.full((96, 64, 3), 40 + index, dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode(None))
    return path


def cut_in_pieces(film: bytes, count: int = 4) -> list[bytes]:
    """The film's bytes in so many pieces."""
    size = -(-len(film) // count)
    return [film[start : start + size] for start in range(0, len(film), size)]


def cut_fragments(film: bytes) -> list[bytes]:
    """A fragmented MP4 file's header and each of its fragments, as recorders hand them on."""
    places, at = [], 0
    while at < len(film):
        if film[at + 4 : at + 8] == b"moof":
            places.append(at)
        at += int.from_bytes(film[at : at + 4], "big")
    return [film[start:end] for start, end in zip([0, *places], [*places, len(film)], strict=True)]


def write_camera_file(clip: Path, path: Path, width: int) -> Path:
    """A clip as a file that Chromium's fake camera plays over and over: JPEG pictures in a row, 30 a second."""
    coder = av.CodecContext.create("mjpeg", "w")
    with av.open(str(clip)) as reading, path.open("wb") as file:
        source = reading.streams.video[0]
        coder.width, coder.height = width, round(source.height * width / source.width / 2) * 2
        coder.pix_fmt, coder.time_base = "yuvj420p", Fraction(1, 30)
        coder.options = {"strict": "-1", "qmin": "3", "qmax": "3"}
        for index, picture in enumerate(reading.decode(source)):
            full = picture.reformat(coder.width, coder.height, "yuvj420p", dst_color_range="JPEG")
            full.pts, full.time_base, full.pict_type, full.color_range = index, coder.time_base, 0, 2
            for packet in coder.encode(full):
                file.write(bytes(packet))
        for packet in coder.encode(None):
            file.write(bytes(packet))
    return path
