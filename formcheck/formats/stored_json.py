"""JSON text that is stored beside reviews: corrections by hand, own limits, the strokes of a pen."""

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, TypeVar

from pydantic import ConfigDict, Field, TypeAdapter, ValidationError

from formcheck.coaching.comment import MOST_POINTS, MOST_STROKES, Stroke
from formcheck.core.errors import ReviewFormatError, UsageError, escape_unprintable
from formcheck.exercises.limits import LimitChange, Limits, dump_limits, read_limits
from formcheck.formats.review_parts import Part, Seconds
from formcheck.reps.edits import MOST_EDITS, Edits, Placed, Stretch

T = TypeVar("T")


class _Strict(Part):
    """Written and read by formcheck alone: an unknown key is a mistake."""

    model_config = ConfigDict(extra="forbid")


class _Placed(_Strict):
    start_s: Seconds
    end_s: Seconds
    top_s: Seconds | None
    replaces_s: Seconds | None


class _Stretch(_Strict):
    start_s: Seconds
    end_s: Seconds


class _Edits(_Strict):
    exercise_id: Annotated[str, Field(min_length=1, max_length=60)] | None
    outside: Annotated[tuple[_Stretch, ...], Field(max_length=MOST_EDITS)]
    removed_s: Annotated[tuple[Seconds, ...], Field(max_length=MOST_EDITS)]
    placed: Annotated[tuple[_Placed, ...], Field(max_length=MOST_EDITS)]


def encode_edits(edits: Edits) -> str:
    """Corrections as JSON text, times to 1 ms (ReviewFormatError for what cannot be expressed)."""

    def write() -> str:
        return json.dumps(_Edits.model_validate(edits, from_attributes=True).model_dump(mode="json"))

    return _run_checked(write, "The corrections cannot be written")


def decode_edits(text: str) -> Edits:
    """The corrections in a JSON text (ReviewFormatError)."""

    def read() -> Edits:
        found = _Edits.model_validate_json(text)
        return Edits(
            found.exercise_id,
            tuple(Stretch(**dict(item)) for item in found.outside),
            found.removed_s,
            tuple(Placed(**dict(item)) for item in found.placed),
        )

    return _run_checked(read, "The stored corrections cannot be read")


def encode_limits(limits: Limits) -> str:
    """Own limits as JSON text; equal limits give equal text."""
    return json.dumps(dump_limits(limits), ensure_ascii=False, sort_keys=True, allow_nan=False)


def decode_limits(text: str) -> Mapping[str, LimitChange]:
    """The own limits in a JSON text (ReviewFormatError)."""

    def read() -> Mapping[str, LimitChange]:
        raw: Any = json.loads(text)
        if not isinstance(raw, dict):
            raise ValueError("not an object")
        return read_limits(raw)

    return _run_checked(read, "The stored limits cannot be read")


_Place = Annotated[float, Field(allow_inf_nan=False)]
_STROKES = TypeAdapter(
    Annotated[
        tuple[Annotated[tuple[tuple[_Place, _Place], ...], Field(max_length=MOST_POINTS)], ...],
        Field(max_length=MOST_STROKES),
    ]
)


def encode_strokes(strokes: Sequence[Stroke]) -> str:
    """Pen strokes as JSON text: lists of [x, y] in pixels of the upright clip, to a tenth."""
    return json.dumps([[[round(x, 1), round(y, 1)] for x, y in stroke] for stroke in strokes], allow_nan=False)


def decode_strokes(text: str | None) -> tuple[Stroke, ...]:
    """The pen strokes in a JSON text; none in none (ReviewFormatError)."""
    return () if text is None else _run_checked(lambda: _STROKES.validate_json(text), "The drawing cannot be read")


def _run_checked(work: Callable[[], T], trouble: str) -> T:
    try:
        return work()
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        path = ".".join(str(part) for part in first["loc"])
        raise ReviewFormatError(f"{trouble}: {escape_unprintable(path)}: {first['msg'].rstrip('.')}.") from error
    except (ValueError, RecursionError, UsageError) as error:
        raise ReviewFormatError(f"{trouble}: {escape_unprintable(str(error)).rstrip('.')[:200]}.") from error
