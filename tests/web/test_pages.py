"""The pages as a reader meets them: the sentences on them and what a click leads to."""

import json
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.analysis import analyse
from formcheck.core.model import QualityProblem
from formcheck.exercises.registry import get_exercise, list_own_cautions, load_cautions
from formcheck.jobs.queue import Job, JobRequest, JobStatus, find_job, start_job
from formcheck.pose.recording import save_recording
from formcheck.report import wording
from formcheck.report.next_cue import choose_next_cue
from formcheck.storage import Store, media_files
from formcheck.storage.data_folder import SLOWLY, DataFolder, default_store
from formcheck.web.review.progress import describe_time_left
from tests import lifter
from tests.facts import says
from tests.jobs.rows import claimed, job_of, set_status, status_of
from tests.web.synthetic import synthetic_analysis, with_problem, without_reps

HOSTILE = "<script>alert(1)</script> *bold* [link](x) $x$.mp4"


def read_page(page: AppTest) -> str:
    """All text and HTML on the page."""
    parts = [item.body if hasattr(item, "body") else item.value for item in page.main if hasattr(item, "value")]
    kinds = (page.markdown, page.caption, page.error, page.info, page.warning, page.success, page.subheader, page.html)
    parts += [item.value if hasattr(item, "value") else item.body for kind in kinds for item in kind]
    return "\n".join(str(part) for part in parts)


def warns(page: AppTest) -> bool:
    """Whether the page says in short what to look out for, with a link to all cautions."""
    links = {link.page: link.label for link in page.get("page_link")}
    return wording.CAUTION_IN_SHORT in read_page(page) and links.get("cautions") == wording.ALL_CAUTIONS


def upload(page: AppTest, name: str, content: bytes) -> AppTest:
    page.file_uploader(key="upload").set_value([(name, content, "video/mp4")])
    return page.run()


def field(items: Any, name: str) -> Any:
    """The one field whose key begins with a name."""
    (found,) = [item for item in items if item.key.startswith(f"{name}_")]
    return found


def choose_exercise(page: AppTest, exercise: str = "lateral-raise") -> AppTest:
    field(page.selectbox, "exercise").set_value(exercise)
    return page.run()


@pytest.fixture
def clip(formcheck_home: Path) -> bytes:
    """A second of moving picture as an H.264 file."""
    import av
    import numpy as np

    path = formcheck_home.parent / "clip.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 96, "yuv420p"
        for index in range(25):
            picture = np.full((96, 64, 3), index * 10, dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())
    return path.read_bytes()


def test_the_first_page_tells_what_it_is_and_warns_before_anything_is_started(
    open_page: Callable[..., AppTest], launched: list[str]
) -> None:
    page = open_page()
    assert not page.exception
    text = read_page(page)
    assert "How did the set go?" in text
    assert warns(page)
    assert "start" not in [button.key for button in page.button]
    assert not launched


def test_a_review_starts_only_with_a_clip_and_the_cautions_read(
    open_page: Callable[..., AppTest], launched: list[str], clip: bytes, formcheck_home: Path
) -> None:
    page = upload(open_page(), "set.mp4", clip)
    assert "<span>set.mp4</span>" in read_page(page)
    assert page.button(key="start").disabled
    assert [job_of(name).request.kind for name in launched] == ["look"]
    page.checkbox(key="cautions_read").check().run()
    assert page.button(key="start").disabled  # the exercise is not known yet
    choose_exercise(page)
    field(page.number_input, "load").set_value(8.5)
    field(page.number_input, "target").set_value(12)
    page.button(key="start").click().run()
    assert not page.exception
    assert len(launched) == 1  # one after the other: the first look has the machine
    set_status(launched[0], JobStatus("done"))
    page.run()
    assert len(launched) == 2
    assert page.query_params["job"] in ([launched[1]], launched[1])
    request = job_of(launched[1]).request
    assert (request.exercise, request.load_kg, request.target_reps) == ("lateral-raise", 8.5, 12)
    assert (formcheck_home / "cautions-read").exists()
    page.run()
    assert len(launched) == 2


def test_cautions_stay_on_the_page_but_are_confirmed_once(
    open_page: Callable[..., AppTest], formcheck_home: Path, clip: bytes
) -> None:
    (formcheck_home / "cautions-read").touch()
    page = choose_exercise(upload(open_page(), "set.mp4", clip))
    assert not page.checkbox
    assert warns(page)
    assert list_own_cautions(get_exercise("lateral-raise"))[0] in read_page(page)
    assert not page.button(key="start").disabled


@pytest.mark.parametrize("name", ["reviewed_sets", "own_limits", "export_or_delete", "how_to_film", "correct_by_hand"])
def test_the_short_caution_and_the_way_to_all_are_on_the_page(
    name: str, open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    page = open_page(review=str(store_review(synthetic_analysis())))
    page = page.switch_page(f"formcheck/web/pages/{name}.py").run()
    assert not page.exception
    assert warns(page)
    assert "cautions" in [link.page for link in page.get("page_link")]


def test_the_page_of_cautions_shows_every_one(open_page: Callable[..., AppTest]) -> None:
    page = open_page().switch_page("formcheck/web/pages/cautions.py").run()
    assert not page.exception
    text = unescape(read_page(page))
    assert all(caution.text in text for caution in load_cautions().values())


@pytest.mark.parametrize("content", [b"", b"just some text, not a clip" * 40])
def test_what_is_no_clip_is_told_in_one_sentence_under_its_own_name(
    open_page: Callable[..., AppTest], content: bytes, formcheck_home: Path
) -> None:
    page = upload(open_page(), "holiday.mp4", content)
    assert not page.exception
    assert len(page.error) == 1
    assert "holiday\\.mp4" in page.error[0].value
    assert "start" not in [button.key for button in page.button]
    assert not list((formcheck_home / "clips").iterdir())


def test_a_hostile_name_is_only_ever_text(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], clip: bytes
) -> None:
    page = upload(open_page(), HOSTILE, clip)
    assert "&lt;script&gt;" in read_page(page)
    assert not any("<script>" in item.body for item in page.html)
    analysis = synthetic_analysis(name=HOSTILE)
    number = store_review(analysis)
    text = read_page(open_page(review=str(number)))
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert "<script>" not in text


def test_a_stored_review_says_what_was_found_with_margins(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    page = open_page(review=str(store_review()))
    assert not page.exception
    text = read_page(page).replace("\u00a0", " ")
    exercise = get_exercise("lateral-raise")
    height = next(check for check in exercise.checks if check.id == "height")
    assert says(text, "6", "8")
    for heading in ("To change<small>1", "Going well</h2><small>2", "Not seen</h2><small>1"):
        assert heading in text
    assert height.title in text
    assert height.cue in text
    assert says(text, "line of the arm", "68°", "4°", "rep 6", "right")
    assert says(text, "front", "not", "forward lean")
    assert says(text, "film", "side")
    for rep in range(1, 7):
        assert f'data-rep="{rep}"' in text
    # Of two sides the card has the worse one.
    assert "Rep 1: Highest line of the arm right 89° ± 4°" in text
    assert '<span class="fc-number">89°</span>' in text
    assert all(caution in unescape(text) for caution in list_own_cautions(exercise))
    assert warns(page)


def test_every_finding_with_a_moment_has_a_button_to_it(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    text = read_page(open_page(review=str(store_review())))
    for finding in synthetic_analysis().review.findings:
        assert finding.at_s is None or f'class="fc-seek" data-t="{finding.at_s:.3f}"' in text


def test_results_can_be_taken_along(open_page: Callable[..., AppTest], store_review: Callable[..., int]) -> None:
    page = open_page(review=str(store_review()))
    offered = {item.key for item in page.download_button}
    assert offered == {"get_pdf", "get_report", "get_overlay", "get_csv", "get_json"}


def test_the_next_cue_comes_first_and_leads_to_its_moment(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    analysis = synthetic_analysis()
    text = read_page(open_page(review=str(store_review())))
    cue = choose_next_cue(analysis.review, get_exercise("lateral-raise"))
    assert cue is not None
    card = text[text.index('class="fc-next"') :]
    assert cue.cue in card[:600]
    assert f'data-t="{cue.at_s:.3f}"' in card[: card.index("</section>")]
    assert text.index('class="fc-next"') < text.index('class="fc-group')
    fine = replace(analysis, review=replace(analysis.review, findings=analysis.review.findings[1:]))
    assert "Next cue</h2>" not in read_page(open_page(review=str(store_review(fine))))


def test_the_film_with_the_skeleton_is_drawn_when_it_is_asked_for_and_once(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], launched: list[str], formcheck_home: Path
) -> None:
    clip = formcheck_home / "set.mp4"
    clip.write_bytes(b"not looked at here")
    number = store_review(clip_path=clip)
    DataFolder(formcheck_home).artifacts(number).overlay.unlink()
    DataFolder(formcheck_home).artifacts(number).plays_mark.touch()
    page = open_page(review=str(number))
    assert {item.key for item in page.download_button} == {"get_pdf", "get_report", "get_csv", "get_json"}
    assert not launched
    page.button(key="make_film").click().run()
    assert not page.exception
    assert [job_of(name).request.kind for name in launched] == ["film"]
    page.run()
    assert len(launched) == 1
    assert page.button(key="make_film").disabled


def test_a_review_leads_back_to_the_start(open_page: Callable[..., AppTest], store_review: Callable[..., int]) -> None:
    page = open_page(review=str(store_review()))
    assert "How did the set go?" not in read_page(page)
    page.button(key="again").click().run()
    assert not page.exception
    assert "How did the set go?" in read_page(page)
    assert not page.query_params
    assert "again" not in [item.key for item in page.button]


def test_a_clip_without_reps_says_how_to_film(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    page = open_page(review=str(store_review(without_reps(synthetic_analysis()))))
    assert not page.exception
    assert "No rep of this exercise was found" in read_page(page)
    assert get_exercise("lateral-raise").filming.advice in page.info[0].value


def test_a_review_whose_clip_is_gone_still_shows_its_numbers(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], launched: list[str]
) -> None:
    for gone, words in ((Path("nowhere.mp4"), "no longer where it was"), (None, "There is no clip of this set")):
        page = open_page(review=str(store_review(drawn=False, clip_path=gone)))
        assert not page.exception
        assert words in page.info[0].value
        assert "right 89° ± 4°" in read_page(page).replace("\u00a0", " ")
    assert not launched


def test_a_set_that_was_never_drawn_shows_its_curves_from_the_landmarks_kept(
    open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    t = lifter.times(8.0)
    course = lifter.Set((90.0, 88.0)).course(t)
    recording = lifter.film(t, left=course, right=course)
    save_recording(recording, formcheck_home / "recordings" / f"{'0' * 32}-{'0' * 16}-1.npz")
    with Store.open(default_store()) as store:
        review = analyse(recording, get_exercise("lateral-raise")).review
        number = store.save_review(review, created_at=datetime(2026, 11, 25, tzinfo=UTC))
    page = open_page(review=str(number))
    assert not page.exception
    assert not page.error
    assert "The movement over time" in [item.label for item in page.expander]


def test_an_unknown_review_is_one_sentence(open_page: Callable[..., AppTest]) -> None:
    page = open_page(review="999")
    assert not page.exception
    (error,) = page.error
    assert "no review 999" in error.value


@pytest.mark.parametrize("number", ["-1", "1; drop table", "１"])
def test_what_is_no_number_of_a_review_leads_to_the_start(open_page: Callable[..., AppTest], number: str) -> None:
    page = open_page(review=number)
    assert not page.exception
    assert not page.error
    assert "How did the set go?" in read_page(page)


def test_an_empty_history_says_where_to_begin(open_page: Callable[..., AppTest]) -> None:
    page = open_page().switch_page("formcheck/web/pages/reviewed_sets.py").run()
    assert "No set has been reviewed yet" in page.info[0].value


def started_job() -> str:
    return start_job(JobRequest("nowhere.mp4", "set.mp4", "lateral-raise", "auto"))


def test_progress_is_shown_again_after_a_reload(
    open_page: Callable[..., AppTest], launched: list[str], formcheck_home: Path
) -> None:
    job = started_job()
    set_status(launched[0], JobStatus("working", "Finding the reps", 0.8, 12.0))
    for _ in range(2):
        page = open_page(job=job)
        assert not page.exception
        text = read_page(page)
        assert "the work goes on" in text
        assert 'class="fc-step-now" aria-current="step"' in text
    assert len(launched) == 1


def test_findings_that_come_while_the_page_looks_are_shown_at_once(
    open_page: Callable[..., AppTest],
    launched: list[str],
    store_review: Callable[..., int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job, review = started_job(), store_review()
    set_status(launched[0], JobStatus("working", "Finding the reps", 0.86, 2.0))
    looks: list[str] = []

    def look(name: str) -> Job | None:
        looks.append(name)
        if len(looks) == 3:
            set_status(name, JobStatus("working", "Drawing the pictures of the reps", 0.9, review_id=review))
        return find_job(name)

    monkeypatch.setattr("formcheck.web.review.progress.find_job", look)
    monkeypatch.setattr("formcheck.web.review.progress._WAIT_S", 60.0)
    page = open_page(job=job)
    assert not page.exception
    assert looks == [job] * 3
    assert "fc-rep" in read_page(page)


def test_what_was_seen_so_far_is_shown_while_the_work_goes_on(
    open_page: Callable[..., AppTest], launched: list[str], formcheck_home: Path
) -> None:
    job = started_job()
    set_status(launched[0], JobStatus("working", "Finding the lifter in every picture", 0.4, 12.0))
    folder = DataFolder(formcheck_home).job(job)
    folder.mkdir(parents=True, exist_ok=True)
    picture = "data:image/jpeg;base64,AAAA"
    (folder / "so-far.json").write_text(
        json.dumps({"picture": picture, "at_s": 12.3, "exercise": "lateral-raise", "reps": 3})
    )
    page = open_page(job=job)
    assert not page.exception
    assert says(read_page(page), picture, "Lateral raise", "3 reps found so far", "0:12.3")
    (folder / "so-far.json").write_text("{")
    assert "found so far" not in read_page(open_page(job=job))


def test_a_failed_job_tells_its_sentence_and_the_way_back(
    open_page: Callable[..., AppTest], launched: list[str], formcheck_home: Path
) -> None:
    job = started_job()
    set_status(launched[0], JobStatus("failed", problem='The clip "set.mp4" is empty (0 bytes).'))
    page = open_page(job=job)
    assert "set\\.mp4" in page.error[0].value
    page.button(key="back").click().run()
    assert "How did the set go?" in read_page(page)


def test_a_finished_job_leads_to_its_review(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], launched: list[str], formcheck_home: Path
) -> None:
    job = started_job()
    set_status(launched[0], JobStatus("done", "Done", 1.0, 0.0, review_id=store_review()))
    assert "6 complete reps (target 8)" in read_page(open_page(job=job))


def test_the_findings_are_shown_while_the_pictures_are_drawn_and_the_clip_plays_already(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], launched: list[str], formcheck_home: Path
) -> None:
    clip = formcheck_home / "set.mp4"
    clip.write_bytes(b"not looked at here")
    number, job = store_review(drawn=False, clip_path=clip), started_job()
    set_status(launched[0], JobStatus("working", "Drawing the pictures of the reps", 0.9, 3.0, review_id=number))
    drawn = DataFolder(formcheck_home).artifacts(number)
    drawn.folder.mkdir(parents=True)
    page = open_page(job=job)
    assert not page.exception
    assert "6 complete reps (target 8)" in read_page(page)
    assert "The film will play here. Drawing the pictures of the reps" in shown_bars(page)
    assert not page.get("video")
    drawn.plays_mark.touch()
    page = open_page(job=job)
    assert page.get("video")
    assert "The set can be read already." in shown_bars(page)
    assert len(launched) == 1  # the job that made the review draws for it


def test_a_clip_that_plays_slowly_plays_until_its_film_is_there(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], launched: list[str], formcheck_home: Path
) -> None:
    clip = formcheck_home / "set.mp4"
    clip.write_bytes(b"not looked at here")
    number = store_review(clip_path=clip)
    drawn = DataFolder(formcheck_home).artifacts(number)
    drawn.overlay.unlink()
    drawn.plays_mark.write_text(SLOWLY)
    page = open_page(review=str(number))
    assert page.get("video")
    assert not shown_bars(page)
    assert [job_of(name).request.review_id for name in launched] == [number]
    page.run()
    assert len(launched) == 1
    drawn.film.write_bytes(b"not looked at here")
    assert drawn.playable(str(clip)) == drawn.film


def shown_bars(page: AppTest) -> str:
    """The words of all progress bars."""
    return "\n".join(item.proto.text for item in page.get("progress"))


def test_a_job_whose_worker_died_is_taken_up_again_once(
    open_page: Callable[..., AppTest], launched: list[str], formcheck_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = started_job()
    claimed(job)
    later = time.time() + 3600
    with monkeypatch.context() as patch:
        patch.setattr("formcheck.jobs.queue.time.time", lambda: later)
        patch.setattr("formcheck.jobs.queue.worker_lives", lambda job: False)
        open_page(job=job)
        assert len(launched) == 2
        open_page(job=job)
        assert len(launched) == 2
    assert status_of(job).stage == "Starting again"


def test_an_unknown_job_is_one_sentence(open_page: Callable[..., AppTest]) -> None:
    assert "no such review" in open_page(job="../../etc").warning[0].value


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(None, ""), (2.0, "a few seconds left"), (42.0, "about 40 seconds left"), (150.0, "about 2 minutes left")],
)
def test_time_left_in_words(seconds: float | None, words: str) -> None:
    assert describe_time_left(seconds) == words


def test_shipped_clips_name_their_exercise(tmp_path: Path) -> None:
    (tmp_path / "one_set.mp4").touch()
    (tmp_path / "one_set.truth.json").write_text('{"exercise": "lateral-raise"}')
    (tmp_path / "two.mp4").touch()
    (tmp_path / "two.truth.json").write_text("not json")
    assert [(item.path.stem, item.exercise) for item in media_files.shipped_clips(tmp_path)] == [
        ("one_set", "lateral-raise"),
        ("two", None),
    ]


def test_a_clip_of_another_exercise_says_so_first_and_offers_that_one(
    open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    other = QualityProblem("other-exercise", {"exercise": "squat", "confidence": 0.93})
    number = store_review(with_problem(synthetic_analysis(), other))
    page = open_page(review=str(number))
    assert not page.exception
    text = read_page(page)
    assert get_exercise("squat").name in text
    assert "93%" in text
    assert "nothing to change" not in text
    assert "Filmed from" not in text
    assert get_exercise("squat").name in page.button(key="review_as_other").label
    with pytest.raises(KeyError):
        page.button(key="review_as_asked")
    listed = read_page(page.switch_page("formcheck/web/pages/reviewed_sets.py").run())
    assert "Another exercise" in listed
    assert "nothing to change" not in listed
