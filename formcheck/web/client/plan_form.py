"""Part of a client's page: the plan of an exercise, the form for a new one, and the plans before."""

from datetime import UTC, date, datetime

import streamlit as st

from formcheck.coaching.plan import EXAMPLE, Plan, parse_plan
from formcheck.core.errors import UsageError
from formcheck.exercises.registry import load_exercises
from formcheck.report import wording
from formcheck.storage import Client, Store, StoredPlan
from formcheck.web import controls, layout
from formcheck.web.markup import render
from formcheck.web.review.set_form import describe_plan


def show(client: Client, exercise_id: str | None) -> None:
    """Show the plan in force and the form that replaces it.

    Parameters
    ----------
    exercise_id : the exercise looked at; None lets the coach choose one.
    """
    layout.show_section("The plan")
    if exercise_id is None:
        names = {exercise.id: exercise.name for exercise in load_exercises().values()}
        exercise_id = controls.choose_from_list("Exercise to plan", names, key="plan_exercise")
    with Store.open() as store:
        history = store.plan_history(client.id, exercise_id)
        held = store.plan_of(client.id, exercise_id, on=datetime.now(UTC).astimezone().date())
    if held is not None and held.plan is not None:
        st.html(_render_sets(held.plan))
        st.caption(layout.escape_markdown(f"Holds since {wording.format_day(held.since)}. {held.remark or ''}"))
    else:
        st.caption("Nothing is planned for this exercise now.")
    with st.expander("Write a new plan", expanded=not history):
        _show_form(client, exercise_id, held)
    if len(history) > 1:
        with st.expander("Plans before"):
            lines = [
                (
                    f"From {wording.format_day(item.since)}",
                    f"{item.plan or 'ended'}{f'. {item.remark}' if item.remark else ''}",
                )
                for item in reversed(history)
            ]
            st.html(render("pieces", "definitions", lines))


def _render_sets(plan: Plan) -> str:
    """One sentence a set, as HTML."""
    lines = [describe_plan(number, item, plan) for number, item in enumerate(plan.sets, 1)]
    return render("pieces", "list", lines)


def _show_form(client: Client, exercise_id: str, held: StoredPlan | None) -> None:
    key = f"{client.id}_{exercise_id}"
    text = st.text_input(
        "Sets, reps, load, tempo, range",
        str(held.plan or "") if held is not None else "",
        key=f"plan_text_{key}",
        placeholder=EXAMPLE,
        help="Reps of each set, with “each side” where left and right do so many each; then what is wanted of: "
        "@ load of each set in kg, tempo as "
        "lowering-pause-lifting-pause in seconds (X: as fast as possible), range in degrees.",
    )
    plan = None
    if text.strip():
        try:
            plan = parse_plan(text)
            st.html(_render_sets(plan))
        except UsageError as error:
            st.warning(layout.escape_markdown(str(error)))
    else:
        st.caption(f"Written like {layout.escape_markdown(EXAMPLE)}")
    left, right = st.columns([2, 3])
    since = left.date_input("First day it holds", "today", format="YYYY-MM-DD", key=f"plan_since_{key}")
    remark = right.text_input("Why", key=f"plan_remark_{key}", max_chars=200)
    with st.container(horizontal=True):
        if st.button("Keep the plan", key=f"plan_keep_{key}", disabled=plan is None):
            _save_plan(client, exercise_id, plan, since, remark)
        if held is not None and st.button("End the plan", key=f"plan_end_{key}"):
            _save_plan(client, exercise_id, None, since, remark)


def _save_plan(client: Client, exercise_id: str, plan: Plan | None, since: date, remark: str) -> None:
    why, now = " ".join(remark.split()) or None, datetime.now(UTC)
    with layout.show_errors(), Store.open() as store:
        store.set_plan(client.id, exercise_id, plan, created_at=now, since=since, remark=why)
        st.rerun()
