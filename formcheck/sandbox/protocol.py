"""The protocol between formcheck and a worker process: requests, responses, and how they are written to a pipe.

A request is a function to call, pickled: it comes from formcheck itself. Responses are not trusted, because a hostile
clip may have taken the worker over: a JSON head and plain arrays of numbers, bounded in size, and nothing is unpickled.
"""

import json
import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import IO, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from formcheck.pose.estimator import MOST_PEOPLE
from formcheck.pose.person_selection import PeopleInFrame, Person
from formcheck.pose.survey import SurveySample
from formcheck.video.chunks import Plan
from formcheck.video.reader import ClipHead, FirstPicture

MAX_HEAD = 8 * 1024**2
"""Bytes of a message's head; a plan of a quarter of an hour has some thousand."""
MAX_ARRAYS = 512 * 1024**2
LARGEST_SEEN = 320
"""Pixels of the longer side of a picture sent with the progress."""
TYPES = ("<f4", "<f8")
TRACK_ARRAYS = ("times", "t", "rows", "observations", "lost", "backward")
"""Of a `formcheck.pose.tracking.Track`."""


TakeSeen = Callable[[], Mapping[str, NDArray[Any]]]
"""Arrays of what was seen since it was called last."""


class SendProgress(Protocol):
    """Called now and then while a request is worked on; most calls send nothing."""

    def __call__(self, t: float | None = None, take_seen: TakeSeen | None = None) -> None:
        """Seconds of the clip reached, None where there are none, and what was seen meanwhile."""


@dataclass(frozen=True, eq=False, slots=True)
class Response:
    """One message from a worker."""

    kind: str
    values: Mapping[str, Any] = field(default_factory=dict)
    arrays: Mapping[str, NDArray[Any]] = field(default_factory=dict)


Request = Callable[[SendProgress], Response]
"""A function of `formcheck.sandbox.worker` with all its arguments but one."""


@dataclass(frozen=True, slots=True)
class PlanResult:
    """What opening a clip gives."""

    head: ClipHead
    first_picture: FirstPicture
    plan: Plan
    finds_people: bool
    """Whether the pose model can find all people in one picture."""


class ProtocolError(Exception):
    """A worker sent bytes that are no valid response."""


def send_response(pipe: IO[bytes], response: Response) -> None:
    """Write a response and flush it."""
    shapes = {name: [array.dtype.newbyteorder("<").str, *array.shape] for name, array in response.arrays.items()}
    head = json.dumps({"kind": response.kind, "values": dict(response.values), "arrays": shapes}).encode()
    pipe.write(struct.pack(">I", len(head)) + head)
    for array in response.arrays.values():
        pipe.write(np.ascontiguousarray(array).data if array.size else b"")
    pipe.flush()


def read_response(pipe: IO[bytes]) -> Response | None:
    """The next response, None at the end; raises ProtocolError when it is invalid or larger than allowed."""
    prefix = pipe.read(4)
    if len(prefix) < 4:
        return None
    (length,) = struct.unpack(">I", prefix)
    if length > MAX_HEAD:
        raise ProtocolError("head too long")
    try:
        head = json.loads(_read_exactly(pipe, length))
        arrays, left = {}, MAX_ARRAYS
        for name, (kind, *shape) in head["arrays"].items():
            if kind not in TYPES or not all(isinstance(size, int) and size >= 0 for size in shape):
                raise ProtocolError("not an array of ours")
            count = int(np.prod(shape, dtype=object))
            left -= count * np.dtype(kind).itemsize
            if left < 0:
                raise ProtocolError("too many numbers")
            data = _read_exactly(pipe, count * np.dtype(kind).itemsize)
            arrays[str(name)] = np.frombuffer(data, dtype=kind).reshape(shape)
        return Response(str(head["kind"]), dict(head["values"]), arrays)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise ProtocolError(str(error)) from None


def encode_sample(item: SurveySample | None) -> dict[str, Any] | None:
    """A survey sample as plain values, for a response."""
    if item is None:
        return None
    frames = [
        {
            "t": frame.t,
            "people": [
                {**{key: getattr(person, key).tolist() for key in _PERSON}, "size": person.size}
                for person in frame.people
            ],
        }
        for frame in item.frames
    ]
    return {"width": item.width, "height": item.height, "frames": frames, "camera_moved": list(item.camera_moved)}


def decode_sample(values: Any) -> SurveySample | None:
    """A survey sample from a response's values; raises KeyError, TypeError or ValueError when it is none."""
    if values is None:
        return None
    frames = tuple(
        PeopleInFrame(float(frame["t"]), tuple(_decode_person(person) for person in frame["people"]))
        for frame in values["frames"]
    )
    if any(len(frame.people) > MOST_PEOPLE for frame in frames):
        raise ValueError("more people than are looked for")
    width, height = values["width"], values["height"]
    if not (isinstance(width, int) and isinstance(height, int) and width > 0 and height > 0):
        raise ValueError("not the size of a picture")
    return SurveySample(width, height, frames, tuple(bool(moved) for moved in values["camera_moved"]))


_PERSON = {"centre": 2, "box": 4, "hands": 2, "colour": 3}
"""Arrays of a `Person` and how many numbers each has."""


def _decode_person(values: Any) -> Person:
    arrays = {key: np.array(values[key], dtype=np.float64) for key in _PERSON}
    person = Person(size=float(values["size"]), **arrays)
    known = np.concatenate([[person.size], person.centre, person.box, person.hands])
    if any(arrays[key].shape != (size,) for key, size in _PERSON.items()) or not np.isfinite(known).all():
        raise ValueError("not a person")
    if person.size <= 0:
        raise ValueError("a person without extent")
    return person


def _read_exactly(pipe: IO[bytes], count: int) -> bytes:
    data = pipe.read(count)
    if len(data) < count:
        raise ProtocolError("cut off")
    return data
