"""Reviews as JSON documents: the published format, its strict reader and its writer.

The format is described in ``docs/review-format.md``; its JSON Schema (draft 2020-12) ships as
``review.schema.json`` beside this module and is written by ``python -m formcheck.formats``.
"""

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from formcheck.core import model
from formcheck.core.errors import ReviewFormatError, explain_validation
from formcheck.core.model import Review
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.numbers import round_up
from formcheck.core.vocabulary.problems import add_problems
from formcheck.formats import review_parts
from formcheck.formats.older_reviews import code_missing_reason
from formcheck.formats.review_parts import Document, Part, round_value

SCHEMA_NAME = "formcheck-review"
SCHEMA_VERSION = 2
_STRICT_VERSION = 1
"""In documents of this version unknown keys are refused; later ones may have keys added."""
SCHEMA_PATH = Path(__file__).with_name("review.schema.json")
MAX_DOCUMENT_BYTES = 16 * 1024 * 1024
"""A set of sixty reps makes a document of about half a megabyte; anything near this limit is not a review."""

_MAX_KEYS = 1000
"""More than any object of a review has."""
_DECIMALS = {"deg": 2, "deg/s": 2, "s": 3, "ratio": 4}
_OTHER_DECIMALS = 4
_SAME_NAME = (
    "clip", "pose_model", "exercise", "view", "quality", "reps", "measures", "findings", "cautions", "by_hand",
    "parts", "by_hand_coded", "points", "measures_version", "reference", "sides",
)  # fmt: skip


# ---------------------------------------------------------------- writing


def make_document(review: Review) -> dict[str, Any]:
    """The review as a JSON-ready document of the published format.

    Times are rounded to 1 ms, angles to 0.01 degree, ratios to 0.0001, so writing what was read
    gives the same text again. Raises ReviewFormatError when the review cannot be expressed
    (a NaN, a wrong type): such a review must not be stored.
    """
    content = {
        "schema": SCHEMA_NAME,
        "version": SCHEMA_VERSION,
        "set": review.set_info,
        "second_camera": review.second,
        **{name: getattr(review, name) for name in _SAME_NAME},
    }
    try:
        result = Document.model_validate(_replace_undecodable(content)).model_dump(mode="json", by_alias=True)
    except ValidationError as error:
        raise ReviewFormatError(f"The review cannot be written: {_describe_first_problem(error)}.") from error
    if not review.pose_model.every_picture:
        del result["pose_model"]["every_picture"]
    if not review.set_info.target_each_side:
        del result["set"]["target_each_side"]
    for measure in result["measures"]:
        _round_fields(measure, ("value",), measure["unit"])
        _round_margin(measure, measure["unit"])
    for finding in result["findings"]:
        term = MEASURES.get(finding["measure"])
        unit = term.unit if term else ""
        _round_fields(finding, ("value", "limit"), unit)
        _round_margin(finding, unit)
    for item in (result["reference"] or {"differences": ()})["differences"]:
        decimals = _DECIMALS.get(item["unit"], _OTHER_DECIMALS)
        _round_fields(item, ("reference", "difference"), item["unit"])
        item["by_rep"] = [round_value(value, decimals) for value in item["by_rep"]]
        for name in ("margin", "rep_margin"):
            item[name] = round_up(item[name], decimals) + 0.0
    for part in filter(None, (result, result["second_camera"])):
        for name in ("out_of_frame", "low_visibility"):
            part["quality"][name] = dict(sorted(part["quality"][name].items()))
    return result


def encode(review: Review, *, indent: int | None = None) -> str:
    """The review as JSON text (see `make_document`)."""
    return json.dumps(make_document(review), ensure_ascii=False, allow_nan=False, indent=indent)


def _round_fields(part: dict[str, Any], names: tuple[str, ...], unit: str) -> None:
    for name in names:
        part[name] = round_value(part[name], _DECIMALS.get(unit, _OTHER_DECIMALS))


def _round_margin(part: dict[str, Any], unit: str) -> None:
    if part["margin"] is not None:
        part["margin"] = round_up(part["margin"], _DECIMALS.get(unit, _OTHER_DECIMALS)) + 0.0


def _replace_undecodable(value: Any) -> Any:
    """The same parts with text that UTF-8 cannot carry replaced: a file name may hold undecodable bytes."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8") if not value.isascii() else value
    if isinstance(value, tuple):
        return tuple(_replace_undecodable(item) for item in value)
    if isinstance(value, Mapping):
        return {_replace_undecodable(key): _replace_undecodable(item) for key, item in value.items()}
    if hasattr(value, "__dataclass_fields__"):
        return {name: _replace_undecodable(getattr(value, name)) for name in value.__dataclass_fields__}
    return value


# ---------------------------------------------------------------- reading


def decode(text: str | bytes) -> Review:
    """The review in a JSON document.

    Raises ReviewFormatError, naming the JSON path, when the text is not JSON (NaN and Infinity are not),
    repeats a key, is nested or sized beyond reason, is of another version, or breaks the format anywhere.
    """
    if len(text) > MAX_DOCUMENT_BYTES:
        raise ReviewFormatError("The review document is larger than any review (16 MB).")
    try:
        raw = json.loads(text, object_pairs_hook=_read_unique_keys, parse_constant=_refuse_constant)
    except RecursionError as error:
        raise ReviewFormatError("The review document is nested too deeply to be a review.") from error
    except ValueError as error:  # also JSONDecodeError, UnicodeDecodeError and integers of too many digits
        raise ReviewFormatError(f"The review document is not valid JSON: {_write_on_one_line(error)}.") from error
    version = _read_version(raw)
    try:
        read = Document.model_validate_json(text, extra="forbid" if version == _STRICT_VERSION else "ignore")
    except ValidationError as error:
        raise ReviewFormatError(
            f"The review document breaks the format: {_describe_first_problem(error)}.", key=_find_json_path(error)
        ) from error
    review = _build_review(read)
    return _add_known_problems(review) if version == _STRICT_VERSION else review


def _add_known_problems(review: Review) -> Review:
    """A review of version 1, which has no codes, with those that follow from what it holds."""
    if review.reps:
        return review
    nobody = model.QualityProblem("nobody-found", {"found_share": 0.0})
    found = nobody if review.quality.tracked_share == 0 else model.QualityProblem("no-reps")
    view = replace(review.view, known=review.view.origin == "given")
    return replace(review, view=view, quality=add_problems(review.quality, found))


def _read_unique_keys(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(pairs) > _MAX_KEYS:
        raise ValueError(f"an object has {len(pairs)} keys")
    result: dict[str, Any] = {}
    for name, value in pairs:
        if name in result:
            raise ValueError(f"the key {name!r} is there twice")
        result[name] = value
    return result


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is not a JSON number")


def _read_version(raw: Any) -> int:
    """The document's version; raises ReviewFormatError when it is no review or of a version not known here."""
    if not isinstance(raw, dict) or raw.get("schema") != SCHEMA_NAME:
        raise ReviewFormatError(f'This is not a review document: $.schema is not "{SCHEMA_NAME}".', key="$.schema")
    version = raw.get("version")
    if isinstance(version, int) and version > SCHEMA_VERSION:
        raise ReviewFormatError(
            f"The review document is of version {str(version)[:20]} and this formcheck reads up to version "
            f"{SCHEMA_VERSION}: "
            "a newer formcheck is needed.",
            key="$.version",
        )
    if isinstance(version, bool) or not isinstance(version, int) or version < _STRICT_VERSION:
        raise ReviewFormatError(
            f"The review document breaks the format: $.version is not {SCHEMA_VERSION} or lower.", key="$.version"
        )
    return version


def _find_json_path(error: ValidationError) -> str:
    steps = error.errors(include_url=False, include_input=False)[0]["loc"]
    return "$" + "".join(f"[{step}]" if isinstance(step, int) else f".{step:.40}" for step in steps)


def _describe_first_problem(error: ValidationError) -> str:
    problems = error.errors(include_url=False, include_input=False)
    message = _write_on_one_line(explain_validation(problems[0]))
    more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    return f"{_find_json_path(error)}: {message[:1].lower()}{message[1:]}{more}"


def _write_on_one_line(problem: object) -> str:
    return " ".join(str(problem).split()).rstrip(".")[:200]


_BUILT_FROM: Mapping[type[Part], type] = {
    review_parts.Clip: model.ClipInfo,
    review_parts.PoseModel: model.PoseModelInfo,
    review_parts.Exercise: model.ExerciseRef,
    review_parts.Set: model.SetInfo,
    review_parts.View: model.CameraView,
    review_parts.Message: model.Message,
    review_parts.QualityProblem: model.QualityProblem,
    review_parts.Quality: model.Quality,
    review_parts.Tempo: model.Tempo,
    review_parts.Rep: model.Rep,
    review_parts.Measure: model.Measure,
    review_parts.Finding: model.Finding,
    review_parts.Point: model.Point,
    review_parts.SecondCamera: model.SecondCamera,
    review_parts.ClipPart: model.ClipPart,
    review_parts.ReferenceDifference: model.ReferenceDifference,
    review_parts.ReferenceComparison: model.ReferenceComparison,
}
"""Part of a document → what of a review is built from it; their fields have the same names."""


_PLAIN = {str, int, float, bool, type(None)}


def _build(value: Any) -> Any:
    """The same with every part of a document replaced by that of a review."""
    kind = type(value)
    if kind is tuple:
        return tuple(map(_build, value))
    if kind not in _BUILT_FROM:
        return value
    built = {name: item if type(item) in _PLAIN else _build(item) for name, item in vars(value).items()}
    return _BUILT_FROM[kind](**built)


def _build_review(read: Document) -> Review:
    parts = {name: _build(item) for name, item in vars(read).items() if name not in ("schema_name", "version")}
    parts["measures"] = tuple(map(_code_measure, parts["measures"]))
    return Review(second=parts.pop("second_camera"), **parts)


def _code_measure(measure: model.Measure) -> model.Measure:
    """The measure with the code of its reason, which older documents do not hold."""
    if measure.missing_reason is None or measure.missing_reason_coded is not None:
        return measure
    return replace(measure, missing_reason_coded=code_missing_reason(measure.missing_reason))


# ---------------------------------------------------------------- the schema


def make_review_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of the format, made from the reader's own types."""
    schema = Document.model_json_schema(by_alias=True)
    schema["$defs"]["Measure"]["oneOf"] = [
        {
            "properties": {
                "value": {"type": "number"},
                "missing_reason": {"type": "null"},
                "missing_reason_coded": {"type": "null"},
            }
        },
        {"properties": {"value": {"type": "null"}, "margin": {"type": "null"}, "missing_reason": {"type": "string"}}},
    ]
    return set_title(schema, f"{SCHEMA_NAME}, version {SCHEMA_VERSION}")


def set_title(schema: dict[str, Any], title: str) -> dict[str, Any]:
    """A schema made by pydantic with this title alone, without those made of the names of classes and fields."""
    for part in (schema, *schema["$defs"].values()):
        part.pop("title", None)
        for field in part.get("properties", {}).values():
            field.pop("title", None)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title, **schema}
