"""Comparisons of sets and progress over sessions as JSON documents; described in ``docs/training-format.md``.

Their JSON Schemas (draft 2020-12) ship beside this module and are written by ``python -m formcheck.formats``.
"""

import json
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, TypeAdapter, ValidationError

from formcheck.coaching.progress import Progress
from formcheck.core.errors import ReviewFormatError
from formcheck.core.model import Review
from formcheck.exercises.registry import find_cautions
from formcheck.formats import set_title
from formcheck.formats.review_parts import Count, Exercise, Part, Positive, Seconds
from formcheck.statistics import results

VERSION = 1
_DECIMALS = 4


class SetRef(Part):
    """A set that was looked at."""

    review: Positive | None
    """Number of the stored review; null when it is not stored."""
    clip: str
    load_kg: float | None
    complete_reps: Count
    partial_reps: Count
    duration_s: Seconds
    by_hand: bool
    """Corrections made by hand are in it."""


class ComparisonDocument(Part):
    """Two sets of one exercise, or the early and the late reps of one."""

    schema_name: Literal["formcheck-comparison"] = Field("formcheck-comparison", alias="schema")
    version: Literal[1] = 1
    exercise: Exercise
    sets: tuple[SetRef, ...]
    """Two sets, or the one whose early and late reps are compared."""
    comparison: results.Comparison
    course: results.SetCourse | None
    """What happened within the set, where there is only one."""
    cautions: tuple[str, ...]
    """Every sentence about safety that holds for the exercise."""


class ProgressDocument(Part):
    """One client and one exercise over sessions."""

    schema_name: Literal["formcheck-progress"] = Field("formcheck-progress", alias="schema")
    version: Literal[1] = 1
    client: str | None
    progress: Progress
    cautions: tuple[str, ...]
    """Every sentence about safety that holds for the exercise."""


KINDS: dict[str, type[Part]] = {"comparison": ComparisonDocument, "progress": ProgressDocument}


def get_schema_path(kind: str) -> Path:
    """Where the JSON Schema of a kind of document lies."""
    return Path(__file__).with_name(f"{kind}.schema.json")


def make_set_ref(review: Review, number: int | None) -> SetRef:
    """How a document speaks of a set."""
    return SetRef(
        review=number,
        clip=review.clip.name.encode("utf-8", "replace").decode("utf-8"),
        load_kg=review.set_info.load_kg,
        complete_reps=review.complete_reps,
        partial_reps=len(review.reps) - review.complete_reps,
        duration_s=review.clip.duration_s,
        by_hand=bool(review.by_hand),
    )


def encode_comparison(
    sets: tuple[tuple[Review, int | None], ...], comparison: results.Comparison, course: results.SetCourse | None = None
) -> str:
    """A comparison as JSON text (ReviewFormatError for a NaN)."""
    exercise = sets[-1][0].exercise
    return _encode(
        ComparisonDocument.model_construct(
            schema_name="formcheck-comparison",
            version=1,
            exercise=Exercise(id=exercise.id, name=exercise.name),
            sets=tuple(make_set_ref(review, number) for review, number in sets),
            comparison=comparison,
            course=course,
            cautions=find_cautions(exercise.id),
        )
    )


def encode_progress(progress: Progress, client: str | None) -> str:
    """Progress over sessions as JSON text (ReviewFormatError for a NaN)."""
    return _encode(
        ProgressDocument.model_construct(
            schema_name="formcheck-progress",
            version=1,
            client=client,
            progress=progress,
            cautions=find_cautions(progress.exercise_id),
        )
    )


def make_schema(kind: str) -> dict[str, Any]:
    """The JSON Schema of a kind of document, made from the types the statistics give."""
    schema = TypeAdapter(KINDS[kind]).json_schema(by_alias=True, mode="serialization")
    return set_title(schema, f"formcheck-{kind}, version {VERSION}")


def _encode(document: Part) -> str:
    try:
        plain = _round_floats(document.model_dump(mode="json", by_alias=True))
        return json.dumps(plain, ensure_ascii=False, allow_nan=False, indent=2)
    except (ValueError, ValidationError) as error:
        raise ReviewFormatError(f"The result cannot be written: {' '.join(str(error).split())[:200]}.") from error


def _round_floats(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, _DECIMALS) + 0.0
    if isinstance(value, dict):
        return {key: _round_floats(item) for key, item in value.items()}
    return [_round_floats(item) for item in value] if isinstance(value, list) else value
