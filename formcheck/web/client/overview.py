"""One client over time: advice, what changed beyond the margin, planned and done, plans, sessions."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import TypeVar

import streamlit as st

from formcheck.coaching.note import SetNote
from formcheck.coaching.progress import Progress, SessionLine, compute_progress
from formcheck.coaching.rating import count_agreement
from formcheck.core.errors import UsageError
from formcheck.exercises.registry import get_exercise
from formcheck.report import wording
from formcheck.report.rating_text import describe_agreement
from formcheck.report.reference_text import describe_held, describe_in_history
from formcheck.report.training_report import ADVICE_WORDS
from formcheck.services.reference_rep import list_in_short
from formcheck.storage import Client, Session, Store
from formcheck.storage.clients import LONGEST_NAME
from formcheck.storage.rows import StoredReferenceRep
from formcheck.storage.sessions import noted_elsewhere, read_sessions, sessions_stamp
from formcheck.web import controls, layout
from formcheck.web.charts import over_sessions
from formcheck.web.client import plan_form
from formcheck.web.components.training_html import format_change, render_done_table
from formcheck.web.markup import render
from formcheck.web.pages import PAGES
from formcheck.web.session_state import page_state

T = TypeVar("T")
_NEWEST = 3
_EARLIER = 50
"""Sessions shown at once, and at most as many more when they are asked for."""


@dataclass(frozen=True, slots=True)
class ClientProgress:
    """One exercise over sessions, the oldest first."""

    stored: tuple[Session, ...]
    progress: Progress
    charts: tuple[over_sessions.Chart, ...]
    notes: tuple[tuple[SetNote | None, ...], ...]
    """Of each session, the lifter's note on each set."""
    beside_reference: Mapping[int, str]
    """Number of a review → what differs from the reference rep, in short."""


def load_client_progress(client_id: int, exercise_id: str, set_number: int) -> ClientProgress:
    """The progress of one set over the sessions stored now, cached until something is stored (StoreError)."""
    with Store.open() as store:
        return _make_progress(client_id, exercise_id, set_number, sessions_stamp(store, client_id, exercise_id), store)


@st.cache_resource(max_entries=8, show_spinner="Reading the sessions")
def _make_progress(client_id: int, exercise_id: str, set_number: int, stamp: str, _store: Store) -> ClientProgress:
    stored = tuple(_store.sessions(client=client_id, exercise_id=exercise_id))
    sessions = read_sessions(_store, client_id, exercise_id, stored)
    notes = tuple(tuple(item.note for item in session.sets) for session in sessions)
    every = [row for session in stored for row in session.sets]
    reviews = [item.review for session in sessions for item in session.sets]
    beside = list_in_short(_store, every, {row.id: review for row, review in zip(every, reviews, strict=True)})
    progress = compute_progress(sessions, noted_elsewhere(_store, client_id, exercise_id), set_number=set_number)
    return ClientProgress(stored, progress, over_sessions.collect_charts(sessions, set_number), notes, beside)


def show(client_id: int) -> None:
    """Show a stored client (StoreError when there is none of this number)."""
    with Store.open() as store:
        client = store.get_client(client_id)
        sessions = store.sessions(client=client.id)
        references = store.list_reference_reps(client=client.id)
        agreed = [(item.exercise_id, item.rating) for item in store.list_ratings(client=client.id)]
        planned = [item.exercise_id for item in store.plan_history(client.id)]
    _show_head(client, sessions)
    done = [session.exercise_id for session in reversed(sessions)]
    names = {name: _name_exercise(name) for name in [*done, *reversed(planned)]}
    exercise_id = _choose_exercise(client, {key: name for key, name in names.items() if name})
    if exercise_id in done:
        _show_progress(client, exercise_id, [one for one in sessions if one.exercise_id == exercise_id])
    elif exercise_id is not None:
        st.info("No set of this exercise is stored yet for this client.")
    plan_form.show(client, exercise_id)
    _show_references([item for item in references if item.exercise_id == exercise_id])
    if agreed:
        st.caption(layout.escape_markdown(describe_agreement(count_agreement(agreed))))
    _show_about(client)


def _show_references(references: Sequence[StoredReferenceRep]) -> None:
    """The client's reference reps of an exercise, each with its set."""
    for item in references:
        words = describe_held(item.view, item.session_on)
        controls.show_page_button(words, "review_set", key=f"reference_{item.review_id}", review=item.review_id)


def _name_exercise(exercise_id: str) -> str:
    """The exercise's name; empty for one that is not known any more."""
    try:
        return get_exercise(exercise_id).name
    except UsageError:
        return ""


def _show_head(client: Client, sessions: Sequence[Session]) -> None:
    days = sorted({session.day for session in sessions})
    st.html(render("client", "head", client, days))
    with st.container(horizontal=True):
        if st.button("Review new clips", type="primary", key="client_review"):
            page_state().client_wanted = client.name
            st.switch_page(PAGES / "review_set.py")
        if sessions:
            controls.show_page_button("Compare sets", "compare", key="client_compare", client=client.id)
        if st.button("All clients", key="client_all"):
            st.query_params.clear()
            st.rerun()


def _choose_exercise(client: Client, names: dict[str, str]) -> str | None:
    if not names:
        st.info("Nothing is stored for this client yet: review a clip, or write a plan below.")
        return None
    if len(names) > 1:
        return controls.choose_from_list("Exercise", names, key=f"client_exercise_{client.id}")
    ((exercise_id, name),) = names.items()
    layout.show_section(escape(name))
    return exercise_id


def _show_progress(client: Client, exercise_id: str, stored: Sequence[Session]) -> None:
    most = max(len(session.sets) for session in stored)
    number = 1
    if most > 1:
        number = controls.choose_by_button(
            "The set to follow from session to session",
            {item: f"Set {item}" for item in range(1, most + 1)},
            key=f"client_set_{client.id}_{exercise_id}",
        )
    loaded = load_client_progress(client.id, exercise_id, number)
    progress = loaded.progress
    left, right = st.columns([5, 6], gap="large")
    with left:
        st.html(render("training", "advice", progress.advice, ADVICE_WORDS[progress.advice.kind].lower()))
    with right:
        _show_changes(progress)
    _show_charts(loaded.charts, number)
    layout.show_section("Planned and done")
    newest, *older = reversed(progress.sessions)
    _show_done(newest)
    _show_earlier(f"The {wording.count(len(older), 'session')} before", "client_done", older, _show_done)
    layout.show_section("The sessions")
    lines = [
        (line, notes, session, loaded.beside_reference)
        for line, notes, session in zip(progress.sessions, loaded.notes, loaded.stored, strict=True)
    ][::-1]
    for line in lines[:_NEWEST]:
        _show_session(line)
    earlier = lines[_NEWEST:]
    _show_earlier(
        f"Show the {wording.count(len(earlier), 'session')} before", "client_sessions", earlier, _show_session
    )
    layout.show_cautions()


def _show_changes(progress: Progress) -> None:
    layout.show_section("What changed")
    st.html(render("client", "changes", progress))
    trends = sorted(progress.trends, key=lambda item: item.call != "changed")
    changes = [
        (item, format_change(item.change, item.detectable, item.unit, item.measure))
        for item in trends
        if item.change is not None
    ]
    if changes:
        with st.expander("The course of every number"):
            st.html(render("client", "trends", changes))
    if progress.one_rep_max is not None:
        with st.expander("Strength, estimated"):
            st.html(render("pieces", "list", [progress.one_rep_max.sentence, progress.one_rep_max.caveat]))


def _show_charts(charts: Sequence[over_sessions.Chart], number: int) -> None:
    layout.show_section("Session by session")
    st.caption(
        "Bars are margins: the true value lies within them in 95 of 100 cases. A diamond with a word stands where a "
        "session differs from the one before by more than both margins."
    )
    columns = st.columns(2, gap="large")
    for index, chart in enumerate(charts):
        with columns[index % 2]:
            which = "" if chart[0].unit == "kg" else f", set {number}"
            st.html(f'<h3 class="fc-curve">{chart[0].title}{which}</h3>')
            figure = over_sessions.draw_history(chart, dark=layout.is_dark())
            layout.show_chart(figure, key=f"history_{index}", alt=". ".join(item.describe() for item in chart))


def _show_done(line: SessionLine) -> None:
    st.html(render_done_table(line.sets, f"{wording.format_day(line.day)}. Plan: {line.plan or 'none'}."))


def _show_earlier(title: str, key: str, lines: Sequence[T], show_one: Callable[[T], None]) -> None:
    """A box whose content is made only when it is opened, and not without end: there may be years of it."""
    if not lines:
        return
    box = st.expander(title, on_change="rerun", key=key)
    if box.open:
        with box:
            for line in lines[:_EARLIER]:
                show_one(line)
            if len(lines) > _EARLIER:
                st.caption(f"Only the newest {_EARLIER} of them are listed.")


def _show_session(session: tuple[SessionLine, Sequence[SetNote | None], Session, Mapping[int, str]]) -> None:
    line, notes, rows, beside = session
    with st.container(border=True, key=f"fc_session_{rows.sets[0].id}"):
        remarks = [
            f"Set {number}: {said}" for number, note in enumerate(notes, 1) if (said := wording.format_note(note))
        ]
        remarks += [describe_in_history(row.set_number, beside[row.id]) for row in rows.sets if row.id in beside]
        st.html(render("client", "session", wording.format_day(line.day), line, remarks))
        with st.container(horizontal=True):
            for row in rows.sets:
                load = f", {wording.format_load(row.load_kg)}" if row.load_kg else ""
                words = f"Set {row.set_number}: {wording.name_reps(row.complete_reps, row.reps)}{load}"
                key = f"open_set_{row.id}"
                controls.show_page_button(words, "review_set", key=key, help="Read the review", review=row.id)


def _show_about(client: Client) -> None:
    with st.expander("Name and notes"):
        name = st.text_input("Name", client.name, max_chars=LONGEST_NAME, key=f"client_name_{client.id}")
        notes = st.text_area("Notes", client.notes or "", key=f"client_notes_{client.id}")
        if st.button("Keep name and notes", key=f"client_keep_{client.id}"):
            with layout.show_errors(), Store.open() as store:
                store.change_client(client.id, name=name, notes=notes)
                st.rerun()
    st.caption(f"Client since {wording.format_day(client.created_at.astimezone())}.")
