"""A voice note as a browser sends it: a WAV file of a tone."""

import io
import math
import struct
import wave


def spoken(seconds: float = 0.2, rate: int = 8000, extra: bytes = b"") -> bytes:
    """A tone of 440 Hz, 16 bits, one channel; `extra` is put behind as a chunk that holds no sound."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        tone = (int(8000 * math.sin(2 * math.pi * 440 * index / rate)) for index in range(int(seconds * rate)))
        file.writeframes(b"".join(struct.pack("<h", value) for value in tone))
    return out.getvalue() + (b"LIST" + struct.pack("<I", len(extra)) + extra if extra else b"")
