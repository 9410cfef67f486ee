"""Messages between the process that asks and the process that looks at a clip.

Orders to the child are pickled: they come from formcheck itself. What the child answers is not trusted, because a
hostile clip may have taken it over: a JSON head and plain numbers, bounded in size, and nothing is unpickled.
"""

import json
import struct
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from formcheck.pose.estimator import MOST_PEOPLE
from formcheck.pose.person_selection import Following, Person, Sight
from formcheck.pose.preview import Glimpse
from formcheck.video.chunks import Chunk, Thinning
from formcheck.video.clip_file import ClipLimits

MAX_HEAD = 8 * 1024**2
"""Bytes of a message's head; a plan of a quarter of an hour has some thousand."""
MAX_ARRAYS = 512 * 1024**2
TYPES = ("<f4", "<f8")
TRACK_ARRAYS = ("times", "t", "rows", "notes", "lost", "backward")
"""Of a `formcheck.pose.tracking.Track`."""


@dataclass(frozen=True, slots=True)
class PlanOrder:
    """Open the clip and say by which plan it is to be tracked."""

    path: Path
    limits: ClipLimits
    chunk_s: float
    whole_s: float
    method: bytes
    """A pickled `Method`."""


@dataclass(frozen=True, slots=True)
class GlanceOrder:
    """Look for all people in some glances."""

    path: Path
    limits: ClipLimits
    method: bytes
    """A pickled `Method`."""
    glances: tuple[Chunk, ...]


@dataclass(frozen=True, slots=True)
class ChunkOrder:
    """Track one chunk."""

    path: Path
    limits: ClipLimits
    method: bytes
    """A pickled `Method`."""
    chunk: Chunk
    thinning: Thinning | None
    threads: int | None
    following: Following | None


@dataclass(frozen=True, slots=True)
class CallOrder:
    """Call a function and answer with the arrays it returns."""

    function: bytes
    """Pickled; takes a function to be called now and then as a sign of life, returns name → array."""


Order = PlanOrder | GlanceOrder | ChunkOrder | CallOrder


@dataclass(frozen=True, eq=False, slots=True)
class Answer:
    """One message of a child."""

    kind: str
    said: Mapping[str, Any] = field(default_factory=dict)
    arrays: Mapping[str, NDArray[Any]] = field(default_factory=dict)


class WireError(Exception):
    """The other side sent what no child of ours sends."""


def send_answer(pipe: IO[bytes], answer: Answer) -> None:
    """Write a message and push it out."""
    shapes = {name: [array.dtype.newbyteorder("<").str, *array.shape] for name, array in answer.arrays.items()}
    head = json.dumps({"kind": answer.kind, "said": dict(answer.said), "arrays": shapes}).encode()
    pipe.write(struct.pack(">I", len(head)) + head)
    for array in answer.arrays.values():
        pipe.write(np.ascontiguousarray(array).data if array.size else b"")
    pipe.flush()


def read_answer(pipe: IO[bytes]) -> Answer | None:
    """The next message, None at the end; raises WireError when it is none or promises too much."""
    prefix = pipe.read(4)
    if len(prefix) < 4:
        return None
    (length,) = struct.unpack(">I", prefix)
    if length > MAX_HEAD:
        raise WireError("head too long")
    try:
        head = json.loads(_exactly(pipe, length))
        arrays, left = {}, MAX_ARRAYS
        for name, (kind, *shape) in head["arrays"].items():
            if kind not in TYPES or not all(isinstance(size, int) and size >= 0 for size in shape):
                raise WireError("not an array of ours")
            count = int(np.prod(shape, dtype=object))
            left -= count * np.dtype(kind).itemsize
            if left < 0:
                raise WireError("too many numbers")
            data = _exactly(pipe, count * np.dtype(kind).itemsize)
            arrays[str(name)] = np.frombuffer(data, dtype=kind).reshape(shape)
        return Answer(str(head["kind"]), dict(head["said"]), arrays)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise WireError(str(error)) from None


def glimpse_said(item: Glimpse | None) -> dict[str, Any] | None:
    """A glimpse as plain values, for an answer."""
    if item is None:
        return None
    sights = [
        {
            "t": sight.t,
            "people": [
                {**{key: getattr(person, key).tolist() for key in _PERSON}, "size": person.size}
                for person in sight.people
            ],
        }
        for sight in item.sights
    ]
    return {"width": item.width, "height": item.height, "sights": sights, "swayed": list(item.swayed)}


def glimpse_in(said: Any) -> Glimpse | None:
    """A glimpse from an answer; raises KeyError, TypeError or ValueError when it is none."""
    if said is None:
        return None
    sights = tuple(
        Sight(float(sight["t"]), tuple(_person_in(person) for person in sight["people"])) for sight in said["sights"]
    )
    if any(len(sight.people) > MOST_PEOPLE for sight in sights):
        raise ValueError("more people than are looked for")
    width, height = said["width"], said["height"]
    if not (isinstance(width, int) and isinstance(height, int) and width > 0 and height > 0):
        raise ValueError("not the size of a picture")
    return Glimpse(width, height, sights, tuple(bool(moved) for moved in said["swayed"]))


_PERSON = {"centre": 2, "box": 4, "hands": 2, "colour": 3}
"""Arrays of a `Person` and how many numbers each has."""


def _person_in(said: Any) -> Person:
    arrays = {key: np.array(said[key], dtype=np.float64) for key in _PERSON}
    person = Person(size=float(said["size"]), **arrays)
    known = np.concatenate([[person.size], person.centre, person.box, person.hands])
    if any(arrays[key].shape != (size,) for key, size in _PERSON.items()) or not np.isfinite(known).all():
        raise ValueError("not a person")
    if person.size <= 0:
        raise ValueError("a person without extent")
    return person


def _exactly(pipe: IO[bytes], count: int) -> bytes:
    data = pipe.read(count)
    if len(data) < count:
        raise WireError("cut off")
    return data
