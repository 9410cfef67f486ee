"""Page: a coach's own limits, tolerances and cues, with what they would change before they are stored."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.core.vocabulary.numbers import PERCENT
from formcheck.exercises.limits import (
    LimitChange,
    Limits,
    apply_limits,
    drop_outdated,
    dump_limits,
    list_outdated,
    note_measures,
    read_limits,
)
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.exercises.schema import Check, Exercise
from formcheck.report import wording
from formcheck.services.own_limits import find_limit_effects
from formcheck.storage import Store
from formcheck.web import controls, layout
from formcheck.web.components import limit_html
from formcheck.web.session_state import read_number

_EVERYONE = 0  # no client has this number
_UNITS = {"deg": "degrees", "deg/s": "degrees a second", "s": "seconds", "ratio": "share", "none": ""}
_STEPS = {"deg": 1.0, "deg/s": 5.0, "s": 0.1, "ratio": 0.01, "none": 0.05}


def main() -> None:
    """Show the limits of one exercise, for everybody or for one client."""
    layout.show_heading(
        "Own limits",
        "What you ask of a lifter, in place of what formcheck asks. "
        "Reviews made before keep their findings; new ones are judged by these limits.",
    )
    with layout.show_errors(), Store.open() as store:
        left, right = st.columns([6, 5], gap="large")
        with left:
            shipped, client = _choose_exercise(store)
            history = store.limits_history(shipped.id, client=client)
            stored = history[-1].changes if history else {}
            held = drop_outdated(shipped, stored)
            everyone = store.limits_of(shipped.id) if client is not None else []
            base = apply_limits(shipped, *(item.changes for item in everyone), stored=True)
            for check in list_outdated(shipped, stored):
                st.info(wording.describe_outdated(check))
            changes = _ask_limits(shipped, base, held, client)
        with right:
            _show_effects(store, shipped, client, changes, held)
            _show_history(store, shipped, client)
    layout.show_cautions()


def _choose_exercise(store: Store) -> tuple[Exercise, int | None]:
    """The exercise as it is shipped, and the id of the client; None for everybody."""
    one, other = st.columns(2)
    names = {exercise.id: exercise.name for exercise in load_exercises().values()}
    asked = st.query_params.get("exercise")
    chosen = controls.choose_from_list("Exercise", names, key="limits_of", wanted=asked, column=one)
    people = {_EVERYONE: "All clients"} | {client.id: client.name for client in store.list_clients()}
    client = controls.choose_from_list("For", people, key="limits_for", wanted=read_number("client"), column=other)
    return get_exercise(chosen), client or None


def _ask_limits(shipped: Exercise, base: Exercise, held: Limits, client: int | None) -> Limits:
    """The changes against `base`, the limits without those edited here (UsageError when beyond reason)."""
    stamp = f"{shipped.id}_{client or _EVERYONE}_{st.session_state.get('limits_stamp', 0)}"
    raw = {}
    for check in base.checks:
        own = held.get(check.id, LimitChange())
        mark = " · yours" if dump_limits({check.id: own}) else ""
        (now,) = apply_limits(base.model_copy(update={"checks": (check,)}), {check.id: own}).checks
        with st.expander(f"{check.title}: {wording.format_check_limit(now)}{mark}"):
            if changed := _ask_check_limits(check, now, stamp):
                raw[check.id] = changed
    changes = note_measures(shipped, read_limits(raw))
    apply_limits(base, changes)
    return changes


def _ask_check_limits(check: Check, now: Check, stamp: str) -> dict[str, float | str]:
    """Limit, tolerance and cue of one check, at first as in `now`; only what differs from `check`."""
    percent = check.measure in PERCENT
    scale = 100.0 if percent else 1.0
    unit = "%" if percent else _UNITS[check.unit]
    labels = {"limit": "At least" if check.at_least is not None else "At most", "tolerance": "Tolerance"}
    found: dict[str, float | str] = {}
    for column, (name, label) in zip(st.columns(2), labels.items(), strict=True):
        value = column.number_input(
            f"{label}, {unit}" if unit else label,
            value=scale * getattr(now, name),
            min_value=0.0 if name == "tolerance" else None,
            step=scale * _STEPS[check.unit],
            format="%.0f" if percent else "%.2f" if check.unit in ("ratio", "none") else "%.1f",
            key=f"{name}_{stamp}_{check.id}",
            help="How far beyond the limit still passes." if name == "tolerance" else None,
        )
        if abs(value / scale - getattr(check, name)) > 1e-9:
            found[name] = value / scale
    cue = st.text_area(
        "What the lifter is told", value=now.cue, height=110, max_chars=400, key=f"cue_{stamp}_{check.id}"
    )
    st.caption(layout.escape_markdown(f"As formcheck has it: {wording.format_check_limit(check)}. “{check.cue}”"))
    words = " ".join(cue.split())
    if words and words != check.cue:
        found["cue"] = words
    return found


def _show_effects(store: Store, shipped: Exercise, client: int | None, changes: Limits, held: Limits) -> None:
    layout.show_section("What would change")
    if dump_limits(changes) == dump_limits(held):
        st.html("<p>Nothing: these limits are in force. Change one to see which past findings would differ.</p>")
        return
    found = find_limit_effects(store, shipped.id, changes, client=client, newest=limit_html.TRIED_ON)
    past = store.count_reviews(client=client, exercise_id=shipped.id)
    st.html(limit_html.render_effects(found, past))
    with st.container(horizontal=True):
        if st.button("Keep these limits", type="primary", key="keep_limits"):
            _save_limits(store, shipped, client, changes)
        if st.button("Take the change back", key="drop_limits"):
            _reset_fields()


def _save_limits(store: Store, shipped: Exercise, client: int | None, changes: Limits) -> None:
    store.set_limits(shipped.id, changes, created_at=datetime.now(UTC), client=client)
    _reset_fields()


def _reset_fields() -> None:
    """Show the fields as they are stored."""
    st.session_state["limits_stamp"] = st.session_state.get("limits_stamp", 0) + 1
    st.rerun()


def _show_history(store: Store, shipped: Exercise, client: int | None) -> None:
    entries = store.limits_history(shipped.id, client=client)
    layout.show_section("Kept before")
    if not entries:
        st.html("<p>Never changed: formcheck’s own limits hold.</p>")
        return
    newest = entries[-1]
    if newest.changes and st.button("Back to formcheck’s own limits", key="reset_limits"):
        _save_limits(store, shipped, client, {})
    checks = {check.id: check for check in shipped.checks}
    for item in reversed(entries):
        with st.container(border=True, key=f"fc_limits_{item.id}"):
            st.html(limit_html.render_entry(item, checks, in_force=item is newest))
            if item is not newest and st.button("Bring these back", key=f"restore_{item.id}", help=f"Entry {item.id}"):
                store.restore_limits(item.id, created_at=datetime.now(UTC))
                _reset_fields()


main()
