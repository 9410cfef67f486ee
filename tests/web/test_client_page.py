"""A client over time on the page: advice, what changed, planned and done, plan, the lifter's note."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from formcheck.coaching.advice import Advice, TrainedSession, TrainedSet
from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.coaching.plan_adherence import compare_with_plan
from formcheck.core.model import Review, SetInfo
from formcheck.report.wording import format_note
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.storage.sessions import trained_sessions
from formcheck.web.charts.over_sessions import MeasureHistory, SessionValue, collect_charts, draw_history
from formcheck.web.client import overview
from formcheck.web.compare.set_choice import describe_set
from formcheck.web.components.training_html import (
    format_change,
    render_done_list,
    render_done_table,
)
from formcheck.web.markup import render
from tests.facts import says
from tests.statistics.sets import in_turn
from tests.web.synthetic import synthetic_analysis
from tests.web.test_pages import read_page, warns

FIRST = date(2026, 10, 1)
HOSTILE = "Ada <script>alert(1)</script>"


def review_of(session: int, load: float) -> Review:
    """The made-up set as another clip with another load."""
    review = synthetic_analysis().review
    clip = replace(review.clip, sha256=f"{session:064x}", name=f"session-{session}.mp4")
    return replace(review, clip=clip, set_info=SetInfo(load, 6))


@pytest.fixture
def client_id(formcheck_home: Path) -> int:
    """A client with three sessions of one set."""
    with Store.open(default_store()) as store:
        made = store.add_client(HOSTILE, created_at=datetime(2026, 10, 1, tzinfo=UTC), notes="left <b>knee</b>")
        plan = parse_plan("6/6 @ 8 kg tempo 2-0-1-0 range 70°")
        store.set_plan(made.id, "lateral-raise", plan, created_at=datetime.now(UTC), since=FIRST, remark="Begin.")
        for number, load in enumerate((6.0, 8.0, 8.0), start=1):
            day = FIRST + timedelta(days=7 * number)
            at = datetime(day.year, day.month, day.day, 18, tzinfo=UTC)
            store.save_review(review_of(number, load), created_at=at, client=HOSTILE, session_on=day)
    return made.id


@pytest.fixture
def page(client_id: int, open_page: Callable[..., AppTest]) -> AppTest:
    """The client's page."""
    opened = open_page()
    opened.query_params["client"] = str(client_id)
    return opened.switch_page("formcheck/web/pages/clients.py").run()


def test_a_clients_course_is_told_with_plan_and_advice(page: AppTest) -> None:
    assert not page.exception
    text = read_page(page).replace("\u00a0", " ")
    assert "Ada &lt;script&gt;" in text
    assert not [item.body for item in page.html if "<script>" in item.body]
    assert "left &lt;b&gt;knee&lt;/b&gt;" in text
    assert says(text, "8 Oct 2026", "22 Oct 2026")
    assert says(text, "next session", "stay")
    assert says(text, "advice", "order")
    assert says(text, "stop", "pain")  # beside the load that is advised
    assert warns(page)
    assert "Too few" in text  # three sessions are too few for a trend
    assert "Set 2" in text
    assert "not recorded" in text  # the second planned set was not done
    assert says(text, "Set 1", "6", "8 kg", "2-0-1-0", "70°")


def test_a_year_of_sessions_is_not_all_put_on_the_page(
    client_id: int, open_page: Callable[..., AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    with Store.open(default_store()) as store:
        for number in range(4, 70):
            day = FIRST + timedelta(days=number * 7)
            at = datetime(day.year, day.month, day.day, 18, tzinfo=UTC)
            store.save_review(review_of(number, 8.0), created_at=at, client=HOSTILE, session_on=day)
    read: list[int] = []
    whole = Store.load_reviews
    monkeypatch.setattr(Store, "load_reviews", lambda self, ids: read.append(len(ids)) or whole(self, ids))
    page = open_page()
    page.query_params["client"] = str(client_id)
    page = page.switch_page("formcheck/web/pages/clients.py").run()
    assert not page.exception
    assert len([item for item in page.button if str(item.key).startswith("open_set_")]) == 3
    page.run()
    assert read == [69]  # once, however often the page is drawn
    with Store.open(default_store()) as store:
        store.save_note(3, SetNote(effort=8.0), written_at=datetime.now(UTC))
    page.run()
    assert read == [69, 69]


def test_a_set_stored_while_the_page_is_drawn_does_no_harm(
    client_id: int, open_page: Callable[..., AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    def one_more(store: Store, *which: int | str) -> str:
        day = FIRST + timedelta(days=28)
        if len(store.sessions(client=client_id)) == 3:
            store.save_review(review_of(4, 9.0), created_at=datetime.now(UTC), client=HOSTILE, session_on=day)
        return "now"

    monkeypatch.setattr(overview, "sessions_stamp", one_more)
    page = open_page()
    page.query_params["client"] = str(client_id)
    page = page.switch_page("formcheck/web/pages/clients.py").run()
    assert not page.exception
    assert not page.error
    assert len([item for item in page.button if str(item.key).startswith("open_set_")]) == 3
    assert "9 kg" in read_page(page).replace("\u00a0", " ")


def test_pain_turns_the_advice_into_a_stop(page: AppTest, open_page: Callable[..., AppTest]) -> None:
    review = open_page(review="3")
    review.segmented_control(key="note_pain_3").set_value("yes").run()
    review.text_input(key="note_where_3").set_value("right <i>shoulder</i>")
    review.number_input(key="note_effort_3").set_value(8.0)
    review.number_input(key="note_sleep_h_3").set_value(6.5)
    review.button(key="note_keep_3").click().run()
    assert not review.exception
    with Store.open(default_store()) as store:
        assert store.note_of(3) == SetNote(effort=8.0, pain=True, pain_where="right <i>shoulder</i>", sleep_h=6.5)
    assert any(says(item.value, "pain", "stop") for item in review.error)
    text = read_page(page.run())
    assert says(text, "next session", "stop")
    assert "right &lt;i&gt;shoulder&lt;/i&gt;" in text
    assert "pain noted" in text
    # Taken back, the stop goes too.
    review.segmented_control(key="note_pain_3").set_value("no").run()
    review.button(key="note_keep_3").click().run()
    assert not [item for item in review.error if says(item.value, "stop")]
    assert not says(read_page(page.run()), "next session", "stop")


def test_a_plan_is_read_while_it_is_written_and_kept(page: AppTest, client_id: int) -> None:
    key = f"{client_id}_lateral-raise"
    field = page.text_input(key=f"plan_text_{key}")
    field.set_value("four of nine").run()
    assert says(page.warning[0].value, "sets", "reps")
    assert page.button(key=f"plan_keep_{key}").disabled
    page.text_input(key=f"plan_text_{key}").set_value("4x9 @ 9 kg").run()
    assert [item.body.count("9 reps, 9 kg") for item in page.html if "9 reps, 9 kg" in item.body] == [4]
    page.button(key=f"plan_keep_{key}").click().run()
    assert not page.exception
    with Store.open(default_store()) as store:
        history = store.plan_history(client_id, "lateral-raise")
    assert [str(item.plan) for item in history] == [
        "6/6 @ 8 kg tempo 2-0-1-0 range 70°".replace("6/6", "2x6"),
        "4x9 @ 9 kg",
    ]
    page.button(key=f"plan_end_{key}").click().run()
    assert says(read_page(page), "nothing", "planned")


def test_a_client_is_added_renamed_and_found(open_page: Callable[..., AppTest]) -> None:
    page = open_page().switch_page("formcheck/web/pages/clients.py").run()
    assert says(page.info[0].value, "no client")
    page.text_input(key="new_client_name").set_value("Ben")
    page.button[0].click().run()
    assert not page.exception
    assert says(page.info[0].value, "nothing", "stored")
    page.text_input(key="client_name_1").set_value("Benno")
    page.button(key="client_keep_1").click().run()
    page.button(key="client_all").click().run()
    assert "<b>Benno</b>" in read_page(page)
    page.text_input(key="new_client_name").set_value(" BENNO ")
    next(item for item in page.button if item.label == "Add the client").click().run()
    assert "already" in page.error[0].value


def test_among_very_many_clients_one_is_found_by_name(client_id: int, open_page: Callable[..., AppTest]) -> None:
    with Store.open(default_store()) as store:
        for number in range(60):
            store.add_client(f"Invented Person {number:02}", created_at=datetime.now(UTC))
        store.add_client("Zoë", created_at=datetime.now(UTC))

    def listed(page: AppTest) -> list[str]:
        assert not page.exception
        return [str(item.proto.help).removeprefix("Open ") for item in page.button if item.label == "Open"]

    page = open_page().switch_page("formcheck/web/pages/clients.py").run()
    assert listed(page)[0] == HOSTILE  # the only one who trained
    assert len(listed(page)) == 50
    assert any(says(item.value, "50", "last") for item in page.caption)
    assert says(read_page(page), "last", "22 Oct 2026")
    page.text_input(key="client_sought").set_value(" ZOË ").run()
    assert listed(page) == ["Zoë"]
    page.text_input(key="client_sought").set_value("nobody of this name").run()
    assert listed(page) == []
    assert says(page.info[0].value, "no client’s name")


def test_an_unknown_client_is_one_sentence(open_page: Callable[..., AppTest]) -> None:
    page = open_page()
    page.query_params["client"] = "99"
    page.switch_page("formcheck/web/pages/clients.py").run()
    assert not page.exception
    assert len(page.error) == 1


def test_whose_set_it_was_can_be_said_later(
    open_page: Callable[..., AppTest], store_review: Callable[..., int], client_id: int
) -> None:
    number = store_review()
    page = open_page(review=str(number))
    page.selectbox(key=f"assign_client_{number}").set_value(HOSTILE)
    page.number_input(key=f"assign_set_{number}").set_value(2)
    page.button(key=f"assign_keep_{number}").click().run()
    assert not page.exception
    with Store.open(default_store()) as store:
        (row,) = store.list_reviews(review_id=number)
    assert (row.client_id, row.set_number) == (client_id, 2)


@pytest.mark.parametrize("number", [101, 12_000])
def test_a_set_of_any_number_can_be_read(
    number: int, open_page: Callable[..., AppTest], store_review: Callable[..., int], formcheck_home: Path
) -> None:
    review = store_review()
    with Store.open(default_store()) as store:
        store.change_review(review, set_number=number, changed_at=datetime.now(UTC))
    page = open_page(review=str(review))
    assert not page.exception
    assert page.number_input(key=f"assign_set_{review}").value == number


def test_only_what_is_beyond_both_margins_is_marked() -> None:
    values = ((80.0, 3.0), (85.0, 3.0), (92.0, 3.0), (85.5, 3.0), (79.0, 3.0))
    history = MeasureHistory("Range", "deg", tuple(SessionValue(FIRST, *pair) for pair in values))
    # 5 is within 3 + 3, 7 is not, 6.5 is not, 6.5 is not.
    assert history.changes() == (0, 0, 1, -1, -1)
    exact = MeasureHistory("Reps", "reps", tuple(SessionValue(FIRST, float(value), None) for value in (8, 12)))
    assert exact.changes() == (0, 0)
    assert MeasureHistory("None", "deg", ()).changes() == ()
    figure = draw_history((history,))
    assert list(figure.data[0].marker.symbol) == ["circle", "circle", "diamond", "diamond", "diamond"]
    assert [note.text for note in figure.layout.annotations] == ["more", "less", "less"]
    assert "clearly more than before" in history.describe()


def test_a_year_of_points_is_drawn_small_and_with_its_years() -> None:
    points = tuple(SessionValue(FIRST + timedelta(days=7 * week), 80.0, 3.0) for week in range(52))
    few, many = (draw_history((MeasureHistory("Range", "deg", some),)) for some in (points[:6], points))
    assert max(many.data[0].marker.size) < min(few.data[0].marker.size)
    assert many.data[0].error_y.thickness < few.data[0].error_y.thickness
    assert many.data[0].error_y.visible
    fallen = MeasureHistory("Range", "deg", (*points[:40], *(replace(point, value=60.0) for point in points[40:])))
    assert fallen.describe().count(";") == 2  # the first, the fall, the last
    assert "52 sessions: 1 Oct 2026" in fallen.describe()
    assert (few.layout.xaxis.tickformat, many.layout.xaxis.tickformat) == ("%-d %b", "%b %Y")


def test_histories_hold_the_medians_of_the_complete_reps(client_id: int) -> None:
    with Store.open(default_store()) as store:
        sessions = trained_sessions(store, client_id, "lateral-raise")
    found = {item.title: item for (item,) in collect_charts(sessions, 1)}
    review = sessions[0].sets[0].review
    ranges = [item.value for item in review.measures if item.name == "range_of_motion" and item.value is not None]
    assert [point.value for point in found["Range of motion"].points] == [pytest.approx(np.median(ranges))] * 3
    assert found["Range of motion"].points[0].margin == pytest.approx(4.2)
    assert [point.value for point in found["Heaviest load"].points] == [6.0, 8.0, 8.0]
    assert "Lifting time" not in found  # never measured in the made-up set
    assert {item.title for (item,) in collect_charts(sessions, 2)} == {"Heaviest load"}


def one_arm(sides: str, left: float, right: float) -> TrainedSet:
    """A set of strokes of one arm, each arm with a range of its own; the left lowers in 2 s, the right in 1 s."""
    review = in_turn(sides)
    by_rep = {rep.number: rep.side for rep in review.reps}
    values = {"left": (left, 2.0), "right": (right, 1.0)}
    measures = tuple(
        replace(item, side=side, value=values[side][0])
        if item.name == "range_of_motion"
        else replace(item, value=values[side][1])
        for item in review.measures
        if item.name in ("range_of_motion", "eccentric_time") and (side := by_rep[item.rep or 0]) is not None
    )
    return TrainedSet(replace(review, measures=measures), None)


@pytest.mark.parametrize("in_one_clip", [True, False])
def test_each_arm_has_its_own_line_where_one_works_at_a_time(in_one_clip: bool) -> None:
    sessions = [
        TrainedSession(
            FIRST + timedelta(days=7 * week),
            (one_arm("LRLRL", 80.0, 70.0),) if in_one_clip else tuple(one_arm(s, 80.0, 70.0) for s in ("LLL", "RR")),
            None,
        )
        for week in range(3)
    ]
    charts = {chart[0].title: chart for chart in collect_charts(sessions, 1)}
    told = {
        title: [(item.side, [point.value for point in item.points]) for item in chart]
        for title, chart in charts.items()
    }
    assert told["Range of motion"] == [("left", [80.0] * 3), ("right", [70.0] * 3)]
    assert told["Lowering time"] == [("left", [2.0] * 3), ("right", [1.0] * 3)]
    assert told["Complete reps"] == [("left", [3.0] * 3), ("right", [2.0] * 3)]
    assert told["Heaviest load"] == [(None, [8.0] * 3)]
    figure = draw_history(charts["Range of motion"])
    colours = [line.line.color for line in figure.data]
    assert len(set(colours)) == 2
    assert [line.marker.symbol[0] for line in figure.data] == ["circle", "square"]
    assert [(note.text, note.y, note.yshift) for note in figure.layout.annotations] == [
        ("left", 80.0, 8),
        ("right", 70.0, -8),
    ]
    assert "Range of motion, right: " in charts["Range of motion"][1].describe()


def test_an_arm_that_was_not_trained_in_a_session_has_no_point_there() -> None:
    sessions = [
        TrainedSession(FIRST, (one_arm("LLL", 80.0, 0.0),), None),
        TrainedSession(FIRST + timedelta(days=7), (one_arm("LRLR", 80.0, 70.0),), None),
    ]
    lines = next(chart for chart in collect_charts(sessions, 1) if chart[0].title == "Complete reps")
    assert [(item.side, [point.value for point in item.points]) for item in lines] == [
        ("left", [3.0, 2.0]),
        ("right", [2.0]),
    ]


def test_lists_and_buttons_tell_the_reps_of_each_arm(client_id: int, open_page: Callable[..., AppTest]) -> None:
    with Store.open(default_store()) as store:
        review = replace(in_turn("LRLRL"), clip=replace(in_turn("L").clip, sha256="9" * 64))
        number = store.save_review(
            review, created_at=datetime.now(UTC), client=HOSTILE, session_on=FIRST + timedelta(days=60)
        )
        row = store.list_reviews(review_id=number)[0]
    assert "3 left, 2 right" in describe_set(row)
    page = open_page()
    page.query_params["client"] = str(client_id)
    page = page.switch_page("formcheck/web/pages/clients.py").run()
    assert not page.exception
    assert page.button(key=f"open_set_{number}").label == "Set 1: 3 left, 2 right, 8 kg"


def test_sessions_say_in_short_what_differs_from_the_reference_rep(
    client_id: int, open_page: Callable[..., AppTest]
) -> None:
    def read() -> list[str]:
        page = open_page()
        page.query_params["client"] = str(client_id)
        page = page.switch_page("formcheck/web/pages/clients.py").run()
        assert not page.exception
        return [item.body for item in page.html if "beside the reference rep" in item.body]

    assert read() == []
    with Store.open(default_store()) as store:
        first = min(row.id for row in store.list_reviews(client=client_id))
        store.set_reference_rep(first, store.load_review(first).reps[1].top_s, created_at=datetime.now(UTC))
    newest, middle, oldest = read()
    assert says(oldest, "Set 1", "beside the reference rep", "its rep 2 is the reference")
    assert says(newest, "Set 1", "beside the reference rep", "arm", "less")
    assert says(middle, "arm", "less")


def test_pieces_escape_and_tell() -> None:
    card = render("training", "advice", Advice("raise", "r", "<b>more</b>", ("<i>a</i>",), ("d",), "<u>s</u>"), "more")
    assert "<b>more" not in card
    assert "&lt;i&gt;a" in card
    assert says(card, "caution")
    plan = parse_plan("6 @ 9 kg range 200°")
    (one,) = compare_with_plan(plan, [review_of(1, 8.0)])
    for text in (render_done_table([one], "x"), render_done_list(one)):
        assert "8 kg" in text
        assert "of 9 kg" in text
        assert "as planned" in text
        assert "less" in text
    (without_pause,) = compare_with_plan(parse_plan("6 @ 9 kg tempo 2-0-1-0"), [review_of(1, 8.0)])
    pauses = [item for item in without_pause.targets if not item.planned]
    assert pauses
    assert render_done_list(without_pause).count("none planned") == len(pauses)
    assert "of 0 s" not in render_done_list(without_pause)
    assert format_note(None) == ""
    assert says(format_note(SetNote(reps_in_reserve=2, pain=True)), "pain", "2 reps left in reserve")
    assert format_change(0.001, 1.0, "deg", "x") == "0.0° ± 1.0°"
    assert format_change(9.0, 4.0, "deg", "x") == "+9° ± 4°"
