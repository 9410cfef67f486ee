"""The review document: published schema, strict reading, stable writing."""

import dataclasses
import json
import string
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formcheck.core import model
from formcheck.core.errors import ReviewFormatError
from formcheck.formats import (
    MAX_DOCUMENT_BYTES,
    SCHEMA_PATH,
    decode,
    encode,
    make_document,
    make_review_schema,
    review_parts,
)
from tests.facts import says

SAMPLE = (Path(__file__).parents[1] / "data" / "review_v1.json").read_text(encoding="utf-8")
VALIDATOR = jsonschema.Draft202012Validator(json.loads(SCHEMA_PATH.read_text(encoding="utf-8")))

# ---------------------------------------------------------------- strategies

text = st.text(max_size=30)
name = st.text(string.ascii_lowercase + "_-", min_size=1, max_size=20)
sha256 = st.text("0123456789abcdef", min_size=64, max_size=64)
seconds = st.floats(0, 7200)
positive = st.integers(1, 10**9)
value = st.floats(-1e6, 1e6)
share = st.floats(0, 1)
size = st.floats(0, 1e5)


@st.composite
def reps(draw: st.DrawFn) -> model.Rep:
    start, top, end = sorted(draw(st.tuples(seconds, seconds, seconds)))
    tempo = model.Tempo(draw(seconds), draw(seconds), draw(seconds), draw(seconds))
    return model.Rep(
        draw(positive),
        start,
        top,
        end,
        draw(st.booleans()),
        tempo,
        draw(st.booleans()),
        draw(st.sampled_from(["left", "right", None])),
    )


listed = st.lists(st.integers(-(10**9), 10**9) | value | text, max_size=3).map(tuple)
messages = st.builds(
    model.Message,
    st.sampled_from(["wrong-view", "a-code-of-a-later-version"]),
    st.dictionaries(name, st.integers(-(10**9), 10**9) | value | text | listed, max_size=3),
)


def measures() -> st.SearchStrategy[model.Measure]:
    side, rep = st.sampled_from(["left", "right", None]), st.none() | positive
    unit = st.sampled_from(["deg", "deg/s", "s", "ratio", "none", "m"])
    camera = st.sampled_from(["first", "second", "both", None])
    measured = st.builds(model.Measure, name, side, rep, value, st.none() | size, unit, st.none(), camera)
    missing = st.builds(
        model.Measure, name, side, rep, st.none(), st.none(), unit, text, missing_reason_coded=st.none() | messages
    )
    return measured | missing


grades = st.sampled_from(["met", "probably_met", "close", "probably_not_met", "not_met"])


def findings() -> st.SearchStrategy[model.Finding]:
    return st.builds(
        model.Finding,
        check=name,
        verdict=st.sampled_from(["met", "not_met", "undecided"]),
        reps=st.lists(positive, max_size=5).map(tuple),
        measure=name | st.sampled_from(["arm_raise_peak", "eccentric_time", "range_share"]),
        value=st.none() | value,
        limit=st.none() | value,
        at_s=st.none() | seconds,
        text=text,
        basis=text,
        text_coded=st.none() | messages,
        grade=st.none() | grades,
        probability=st.none() | share,
        margin=st.none() | size,
        kind=st.sampled_from(["level", "change"]),
    )


def points() -> st.SearchStrategy[model.Point]:
    some_reps = st.lists(positive, max_size=5).map(tuple)
    kind = st.sampled_from(["level", "change"])
    verdict = st.sampled_from(["met", "not_met", "undecided"])
    return st.builds(model.Point, name, kind, verdict, st.none() | grades, st.none() | share, some_reps, some_reps)


def several(item: st.SearchStrategy[Any]) -> st.SearchStrategy[tuple[Any, ...]]:
    return st.lists(item, max_size=4).map(tuple)


clips = st.builds(
    model.ClipInfo, text, sha256, positive, positive, seconds, st.integers(0, 10**6), size, st.booleans(), name
)
views = st.builds(
    model.CameraView,
    st.sampled_from(["front", "back", "left", "right", "oblique"]),
    st.none() | st.floats(-180, 180),
    st.none() | st.floats(0, 180),
    st.sampled_from(["estimated", "given"]),
)
problems = st.builds(
    model.QualityProblem,
    st.sampled_from(["clip-damaged", "a-code-of-a-later-version"]),
    st.dictionaries(name, st.integers(-(10**9), 10**9) | value | text, max_size=3),
)
qualities = st.builds(
    model.Quality,
    share,
    size,
    st.none() | size,
    st.dictionaries(name, share, max_size=3),
    st.dictionaries(name, share, max_size=3),
    several(text),
    problems=several(problems),
    notes_coded=several(messages),
)
seconds_cameras = st.builds(
    model.SecondCamera,
    clips,
    views,
    qualities,
    st.floats(-7200, 7200),
    st.floats(0, 10),
    share,
    st.sampled_from(["movement", "sound"]),
    st.sampled_from(["first", "second"]),
)
clip_parts = st.builds(model.ClipPart, seconds, seconds, several(positive), views)
numbers = st.floats(-1000, 1000)


@st.composite
def differences(draw: st.DrawFn) -> model.ReferenceDifference:
    """One measure of two recordings, with an entry for each rep."""
    reps = draw(several(positive))
    by_rep = tuple(draw(numbers) for _ in reps)
    unit, side = draw(st.sampled_from(["deg", "s", "ratio"])), draw(st.sampled_from([None, "left", "right"]))
    margins = st.floats(0, 100)
    return model.ReferenceDifference(
        draw(name), side, unit, draw(numbers), draw(numbers), draw(margins), draw(st.booleans()), reps, by_rep,
        draw(margins),
    )  # fmt: skip


references = st.builds(
    model.ReferenceComparison,
    clip_name=text,
    clip_sha256=sha256,
    rep=positive,
    session_on=st.dates(model.FIRST_DAY, model.LAST_DAY),
    yaw_difference_deg=st.none() | st.floats(-180, 180),
    yaw_margin_deg=st.none() | st.floats(0, 90),
    alike=st.booleans(),
    differences=several(differences()),
)
reviews = st.builds(
    model.Review,
    clip=clips,
    pose_model=st.builds(model.PoseModelInfo, text, sha256),
    exercise=st.builds(model.ExerciseRef, name, text),
    set_info=st.builds(model.SetInfo, st.none() | st.floats(0, 1000), st.none() | positive),
    view=views,
    quality=qualities,
    reps=several(reps()),
    measures=several(measures()),
    findings=several(findings()),
    points=several(points()),
    measures_version=st.integers(1, 9),
    sides=st.sampled_from(["both", "one", "alternating"]),
    cautions=several(text),
    second=st.none() | seconds_cameras,
    parts=several(clip_parts),
    by_hand=several(text),
    by_hand_coded=several(messages),
    reference=st.none() | references,
)

# ---------------------------------------------------------------- writing and reading


@given(reviews)
@settings(max_examples=150, deadline=None)
def test_written_reviews_follow_the_schema_and_are_stable(review: model.Review) -> None:
    written = encode(review)
    VALIDATOR.validate(json.loads(written))
    read = decode(written)
    assert encode(read) == written
    assert decode(encode(read)) == read
    assert encode(read, indent=2) != written
    assert decode(encode(read, indent=2)) == read


@given(reviews)
@settings(max_examples=50, deadline=None)
def test_rounding_moves_nothing_further_than_half_its_last_digit(review: model.Review) -> None:
    read = decode(encode(review))
    for before, after in zip(review.reps, read.reps, strict=True):
        assert after.top_s == pytest.approx(before.top_s, abs=0.5001e-3)
        assert (after.number, after.complete) == (before.number, before.complete)
    half = {"deg": 0.5001e-2, "deg/s": 0.5001e-2, "s": 0.5001e-3}
    for old, new in zip(review.measures, read.measures, strict=True):
        assert (old.name, old.side, old.rep, old.missing_reason) == (new.name, new.side, new.rep, new.missing_reason)
        tolerance = half.get(old.unit, 0.5001e-4)
        assert new.value is None if old.value is None else new.value == pytest.approx(old.value, abs=tolerance)


def test_a_document_written_by_hand_reads_as_what_it_says() -> None:
    VALIDATOR.validate(json.loads(SAMPLE))
    review = decode(SAMPLE)
    assert review.set_info == model.SetInfo(load_kg=7.5, target_reps=3)
    assert review.reps[1].tempo.digits() == ("1.4", "0.2", "1.1", "0.2")
    missing = review.measure("torso_inclination_range", rep=1)
    assert missing is not None
    assert says(missing.missing_reason or "", "from the front", "from the side")
    assert review.findings[0].reps == (3,)
    # The sample is of version 1, older than second cameras, corrections by hand, cut clips in parts, a figure for
    # shaking, origins of margins, problems of a clip, codes beside sentences, and whether the camera's side is known.
    written = json.loads(encode(review))
    assert written.pop("version") == 2
    assert written["quality"].pop("problems") == []
    assert written["view"].pop("known") is True
    assert written.pop("second_camera") is None
    assert written.pop("by_hand") == []
    assert written.pop("parts") == []
    assert written.pop("by_hand_coded") == []
    assert written["quality"].pop("notes_coded") == []
    assert written["quality"].pop("landmark_jitter") is None
    assert {rep.pop("by_hand") for rep in written["reps"]} == {False}
    assert {measure.pop("camera") for measure in written["measures"]} == {None}
    assert {measure.pop("margin_origin") for measure in written["measures"]} == {None}
    assert {finding.pop("reason") for finding in written["findings"]} == {None}
    assert {finding.pop("text_coded") for finding in written["findings"]} == {None}
    # Nor did it have grades.
    assert written.pop("points") == []
    assert written.pop("measures_version") == 1
    assert written.pop("reference") is None
    assert written.pop("sides") == "both"
    assert {rep.pop("side") for rep in written["reps"]} == {None}
    assert {finding.pop(key) for finding in written["findings"] for key in ("grade", "probability", "margin")} == {None}
    assert {finding.pop("kind") for finding in written["findings"]} == {"level"}
    coded = [measure.pop("missing_reason_coded") for measure in written["measures"]]
    assert [item for item in coded if item] == [
        {"code": "wrong-view", "parameters": {"view": "front", "film_from": ["side"]}}
    ]
    sample = json.loads(SAMPLE)
    assert sample.pop("version") == 1
    assert written == sample


def test_target_reps_each_side_are_written_where_they_are_meant_so() -> None:
    whole = decode(SAMPLE)
    each = dataclasses.replace(whole, set_info=model.SetInfo(7.5, 3, target_each_side=True))
    written = make_document(each)
    VALIDATOR.validate(written)
    assert written["set"] == {"load_kg": 7.5, "target_reps": 3, "target_each_side": True}
    assert decode(encode(each)).set_info == each.set_info
    assert make_document(whole)["set"] == {"load_kg": 7.5, "target_reps": 3}


def test_the_document_has_exactly_the_documented_keys() -> None:
    keys = (
        "schema version clip pose_model exercise set view quality reps measures findings cautions second_camera "
        "by_hand parts by_hand_coded points measures_version reference sides"
    )
    written = make_document(decode(SAMPLE))
    assert list(written) == keys.split()
    assert list(written["reps"][0]) == ["number", "start_s", "top_s", "end_s", "complete", "tempo", "by_hand", "side"]
    assert list(written["reps"][0]["tempo"]) == ["eccentric_s", "bottom_pause_s", "concentric_s", "top_pause_s"]
    keys = "name side rep value margin unit missing_reason camera margin_origin missing_reason_coded"
    assert " ".join(written["measures"][0]) == keys
    assert list(written["findings"][0]) == [
        "check",
        "verdict",
        "reps",
        "measure",
        "value",
        "limit",
        "at_s",
        "text",
        "basis",
        "reason",
        "text_coded",
        "grade",
        "probability",
        "margin",
        "kind",
    ]


def test_the_documentation_shows_every_key() -> None:
    page = (Path(__file__).parents[2] / "docs" / "review-format.md").read_text(encoding="utf-8")
    schema = make_review_schema()
    for part in (schema, *schema["$defs"].values()):
        for key in part["properties"]:
            assert f"`{key}`" in page or f'"{key}"' in page, key


def test_the_example_in_the_documentation_is_a_review() -> None:
    page = (Path(__file__).parents[2] / "docs" / "review-format.md").read_text(encoding="utf-8")
    example = page.split("```json\n")[1].split("```")[0]
    assert json.loads(encode(decode(example))) == json.loads(example)


def test_a_name_that_utf8_cannot_carry_is_still_written() -> None:
    review = decode(SAMPLE)
    clip = dataclasses.replace(review.clip, name="set\udcff é.mp4")
    assert decode(encode(dataclasses.replace(review, clip=clip))).clip.name == "set? é.mp4"


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -1.0])
def test_a_review_that_cannot_be_said_is_not_written(bad: float) -> None:
    review = decode(SAMPLE)
    tempo = dataclasses.replace(review.reps[0].tempo, eccentric_s=bad)
    broken = dataclasses.replace(review, reps=(dataclasses.replace(review.reps[0], tempo=tempo),))
    with pytest.raises(ReviewFormatError, match=r"\$\.reps\[0\]\.tempo\.eccentric_s"):
        encode(broken)


# ---------------------------------------------------------------- the schema


def test_the_published_schema_is_the_reader_s_own() -> None:
    assert json.loads(SCHEMA_PATH.read_text(encoding="utf-8")) == make_review_schema(), (
        "run python -m formcheck.formats"
    )


def test_the_published_schema_is_a_schema_of_its_draft() -> None:
    jsonschema.Draft202012Validator.check_schema(make_review_schema())


@pytest.mark.parametrize(
    ("part", "noun"),
    [
        (review_parts.Clip, model.ClipInfo),
        (review_parts.PoseModel, model.PoseModelInfo),
        (review_parts.Exercise, model.ExerciseRef),
        (review_parts.Set, model.SetInfo),
        (review_parts.View, model.CameraView),
        (review_parts.Quality, model.Quality),
        (review_parts.Tempo, model.Tempo),
        (review_parts.Rep, model.Rep),
        (review_parts.Measure, model.Measure),
        (review_parts.Finding, model.Finding),
    ],
)
def test_every_field_of_the_model_is_in_the_document(part: type[review_parts.Part], noun: type) -> None:
    assert list(part.model_fields) == [field.name for field in dataclasses.fields(noun)]


# ---------------------------------------------------------------- strict reading


def changed(path: str, new: Any) -> str:
    """The sample with one place changed; `new` of Ellipsis removes the key."""
    whole = json.loads(SAMPLE)
    *way, last = [int(step) if step.isdigit() else step for step in path.split("/")]
    place = whole
    for step in way:
        place = place[step]
    if new is ...:
        del place[last]
    else:
        place[last] = new
    return json.dumps(whole)


@pytest.mark.parametrize(
    ("path", "new", "says"),
    [
        ("schema", "something-else", "$.schema"),
        ("version", 3, "version 3"),
        ("version", 10**50, "newer"),
        ("version", 0, "$.version"),
        ("version", "1", "$.version"),
        ("version", True, "$.version"),
        ("version", ..., "$.version"),
        ("set", ..., "$.set"),
        ("surprise", 1, "$.surprise"),
        ("clip/sha256", "abc", "$.clip.sha256"),
        ("clip/sha256", 64 * "0" + "\n", "$.clip.sha256"),
        ("clip/width", 0, "$.clip.width"),
        ("clip/width", 608.5, "$.clip.width"),
        ("clip/width", True, "$.clip.width"),
        ("clip/name", None, "$.clip.name"),
        ("view/name", "above", "$.view.name"),
        ("view/name", ["front"], "$.view.name"),
        ("quality/tracked_share", 1.01, "$.quality.tracked_share"),
        ("quality/out_of_frame/nose", "0.1", "$.quality.out_of_frame.nose"),
        ("reps", {}, "$.reps"),
        ("reps/0/number", 0, "$.reps[0].number"),
        ("reps/0/top_s", 99, "$.reps[0]: start_s, top_s and end_s"),
        ("reps/1/start_s", "3.4", "$.reps[1].start_s"),
        ("reps/1/complete", 1, "$.reps[1].complete"),
        ("reps/1/tempo/top_pause_s", ..., "$.reps[1].tempo.top_pause_s"),
        ("reps/1/tempo/top_pause_s", -0.1, "$.reps[1].tempo.top_pause_s"),
        ("measures/0/side", "both", "$.measures[0].side"),
        ("measures/0/missing_reason", "but it is there", "$.measures[0]: a measure has either"),
        ("measures/4/missing_reason", None, "$.measures[4]: a measure has either"),
        ("measures/4/margin", 1.0, "$.measures[4]: a measure without a value"),
        ("measures/0/margin", -1.0, "$.measures[0].margin"),
        ("findings/0/verdict", "failed", "$.findings[0].verdict"),
        ("findings/0/reps", [1, "2"], "$.findings[0].reps[1]"),
        ("cautions/0", 5, "$.cautions[0]"),
    ],
)
def test_a_wrong_document_is_refused_with_its_place(path: str, new: Any, says: str) -> None:
    with pytest.raises(ReviewFormatError) as caught:
        decode(changed(path, new))
    sentence = str(caught.value)
    assert says in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert len(sentence) < 400


@pytest.mark.parametrize(
    ("path", "new"),
    [
        ("version", 0),
        ("clip/sha256", "abc"),
        ("reps/1/tempo/top_pause_s", -0.1),
        ("measures/0/missing_reason", "but it is there"),
        ("measures/4/missing_reason", None),
        ("measures/4/margin", 1.0),
        ("findings/0/verdict", "failed"),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(path: str, new: Any) -> None:
    assert not VALIDATOR.is_valid(json.loads(changed(path, new)))


def with_added_keys(item: Any) -> Any:
    """The same document with a key more in every object of fixed keys."""
    if isinstance(item, list):
        return [with_added_keys(one) for one in item]
    if isinstance(item, dict):
        named = {"out_of_frame", "low_visibility", "parameters"}
        kept = {key: one if key in named else with_added_keys(one) for key, one in item.items()}
        return {**kept, "added_later": [1, {"more": None}]}
    return item


def test_keys_added_by_a_later_version_are_ignored_from_version_2_on() -> None:
    newest = json.loads(encode(decode(SAMPLE)))
    more = json.dumps(with_added_keys(newest))
    VALIDATOR.validate(json.loads(more))
    assert decode(more) == decode(SAMPLE)
    with pytest.raises(ReviewFormatError, match="added_later"):
        decode(json.dumps(with_added_keys(json.loads(SAMPLE))))


def with_text(old: str, new: str) -> str:
    assert SAMPLE.count(old) == 1
    return SAMPLE.replace(old, new)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "not valid JSON"),
        ("null", "not a review"),
        ("[]", "not a review"),
        ('{"schema": {"$ref": "#"}}', "not a review"),
        (SAMPLE[:-30], "not valid JSON"),
        (SAMPLE + "{}", "not valid JSON"),
        (with_text("89.42", "NaN"), "NaN"),
        (with_text("89.42", "-Infinity"), "Infinity"),
        (with_text("89.42", "1e999"), "$.measures[0].value"),
        (with_text("89.42", "1" * 5000), "not valid JSON"),
        (with_text('"frames": 284', '"frames": 284, "frames": 285'), "'frames' is there twice"),
        (with_text("[3]", "[" * 100_000 + "]" * 100_000), "nested too deeply"),
        (with_text("[3]", "[" * 50 + "]" * 50), "$.findings[0].reps[0]"),
        ('{"a":' * 100_000, "nested too deeply"),
        (with_text("invented-set.mp4", r"\ud800"), "breaks the format"),
        (with_text("[3]", "[" + "0," * 2_000_000 + "0]"), "$.findings[0].reps[0]"),
        (with_text('"left_foot_index": 0.031', ",".join(f'"{i}": 2' for i in range(100_000))), "100000 keys"),
        (" " * (MAX_DOCUMENT_BYTES + 1), "larger than any review"),
    ],
    ids=range(18),
)
def test_what_is_no_review_is_refused_in_one_sentence(text: str, says: str) -> None:
    with pytest.raises(ReviewFormatError) as caught:
        decode(text)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400


def test_bytes_are_read_too() -> None:
    assert decode(SAMPLE.encode()) == decode(SAMPLE)
    with pytest.raises(ReviewFormatError, match="not valid JSON"):
        decode(b"\xff\xfe\x00 not text")


@given(st.binary(max_size=200) | st.text(max_size=200))
@settings(max_examples=100, deadline=None)
def test_noise_is_refused(noise: str | bytes) -> None:
    with pytest.raises(ReviewFormatError):
        decode(noise)


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_any_change_is_read_or_refused_never_worse(data: st.DataObject) -> None:
    """Cut, doubled or overwritten anywhere: a review that can be written again, or a ReviewFormatError."""
    start = data.draw(st.integers(0, len(SAMPLE)))
    end = data.draw(st.integers(start, min(len(SAMPLE), start + 40)))
    middle = data.draw(
        st.sampled_from(["", "0", "-1", "null", "{}", '"', ",", "1e400", SAMPLE[start:end] * 2]) | st.text()
    )
    try:
        review = decode(SAMPLE[:start] + middle + SAMPLE[end:])
    except ReviewFormatError:
        return
    encode(review)
