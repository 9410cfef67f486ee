"""Page: a coach's own limits, tolerances and cues, with what they would change before they are kept."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.core.vocabulary.numbers import PERCENT
from formcheck.exercises.limits import LimitChange, Limits, plain_limits, read_limits, with_limits
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.exercises.schema import Check, Exercise
from formcheck.report import wording
from formcheck.services.own_limits import LimitEffect, find_limit_effects
from formcheck.storage import Client, Store
from formcheck.web import layout
from formcheck.web.components import limit_html as shown

_UNITS = {"deg": "degrees", "deg/s": "degrees a second", "s": "seconds", "ratio": "share", "none": ""}
_STEPS = {"deg": 1.0, "deg/s": 5.0, "s": 0.1, "ratio": 0.01, "none": 0.05}
_EVERYONE = "All clients"


def main() -> None:
    """Show the limits of one exercise, for everybody or for one client."""
    layout.show_heading(
        "Own limits",
        "What you ask of a lifter, in place of what formcheck asks. "
        "Reviews made before keep their findings; new ones are judged by these limits.",
    )
    with layout.show_errors():
        with Store.open() as store:
            clients = store.list_clients()
        left, right = st.columns([6, 5], gap="large")
        with left:
            shipped, client = _choose_client(clients)
            base, held = _find_limits(shipped, client)
            changes = _ask_limits(shipped, base, held, client)
        with right:
            _show_effects(shipped, client, changes, held)
            _show_history(shipped, client)
    layout.show_cautions()


def _choose_client(clients: list[Client]) -> tuple[Exercise, Client | None]:
    known = load_exercises()
    one, other = st.columns(2)
    with one:
        asked = st.query_params.get("exercise", "")
        place = list(known).index(asked) if asked in known else 0
        chosen = st.selectbox(
            "Exercise", list(known), index=place, format_func=lambda key: known[key].name, key="limits_of"
        )
    with other:
        wanted = st.query_params.get("client", "")
        first = next((spot for spot, item in enumerate(clients, 1) if str(item.id) == wanted), 0)
        who = st.selectbox(
            "For",
            range(len(clients) + 1),
            index=first,
            format_func=lambda spot: clients[spot - 1].name if spot else _EVERYONE,
            key="limits_for",
        )
    return get_exercise(chosen), clients[who - 1] if who else None


def _find_limits(shipped: Exercise, client: Client | None) -> tuple[Exercise, Limits]:
    """What holds without the limits edited here, and those limits as they are."""
    with Store.open() as store:
        own = store.limits_history(shipped.id, client=None if client is None else client.id)[-1:]
        everyone = store.limits_of(shipped.id) if client is not None else []
    base = with_limits(shipped, *(item.changes for item in everyone), stored=True)
    return base, own[0].changes if own else {}


def _ask_limits(shipped: Exercise, base: Exercise, held: Limits, client: Client | None) -> Limits:
    """One part a check; gives the changes against what holds without them (UsageError when beyond reason)."""
    stamp = f"{shipped.id}_{0 if client is None else client.id}_{st.session_state.get('limits_stamp', 0)}"
    raw = {}
    for check in base.checks:
        own = held.get(check.id, LimitChange())
        mark = " · yours" if plain_limits({check.id: own}) else ""
        with st.expander(f"{check.title}: {wording.limit_words(_apply_limits(check, own))}{mark}"):
            changed = _ask_check_limits(check, own, stamp)
            if changed:
                raw[check.id] = changed
    changes = read_limits(raw)
    with_limits(base, changes)
    return changes


def _ask_check_limits(check: Check, own: LimitChange, stamp: str) -> dict[str, float | str]:
    """Limit, tolerance and cue of one check; only what differs from the check as it is."""
    percent = check.measure in PERCENT
    scale = 100.0 if percent else 1.0
    unit = "%" if percent else _UNITS[check.unit]
    bound = "At least" if check.at_least is not None else "At most"
    step = scale * _STEPS[check.unit]
    spot = "%.0f" if percent else "%.2f" if check.unit in ("ratio", "none") else "%.1f"
    asked, spare = st.columns(2)
    with asked:
        limit = st.number_input(
            f"{bound}, {unit}".rstrip(", "),
            value=scale * (check.limit if own.limit is None else own.limit),
            step=step,
            format=spot,
            key=f"limit_{stamp}_{check.id}",
        )
    with spare:
        tolerance = st.number_input(
            f"Tolerance, {unit}".rstrip(", "),
            value=scale * (check.tolerance if own.tolerance is None else own.tolerance),
            min_value=0.0,
            step=step,
            format=spot,
            key=f"tolerance_{stamp}_{check.id}",
            help="What is let pass beyond the limit.",
        )
    cue = st.text_area(
        "What the lifter is told",
        value=check.cue if own.cue is None else own.cue,
        height=110,
        max_chars=400,
        key=f"cue_{stamp}_{check.id}",
    )
    st.caption(layout.escape_markdown(f"As formcheck has it: {wording.limit_words(check)}. “{check.cue}”"))
    found: dict[str, float | str] = {}
    for name, given, was in (("limit", limit, check.limit), ("tolerance", tolerance, check.tolerance)):
        if abs(given / scale - was) > 1e-9:
            found[name] = given / scale
    words = " ".join(cue.split())
    if words and words != check.cue:
        found["cue"] = words
    return found


def _apply_limits(check: Check, own: LimitChange) -> Check:
    bound = "at_least" if check.at_least is not None else "at_most"
    update = {bound: own.limit, "tolerance": own.tolerance}
    return check.model_copy(update={name: value for name, value in update.items() if value is not None})


def _show_effects(shipped: Exercise, client: Client | None, changes: Limits, held: Limits) -> None:
    layout.show_section("What would change")
    if plain_limits(changes) == plain_limits(held):
        st.html("<p>Nothing: these are the limits that hold. Change one to see which past findings would differ.</p>")
        return
    with Store.open() as store:
        who = None if client is None else client.id
        found: list[LimitEffect] = find_limit_effects(store, shipped.id, changes, client=who, newest=shown.TRIED_ON)
        past = store.count_reviews(client=who, exercise_id=shipped.id)
    st.html(shown.render_effects(found, past, tried_on=shown.TRIED_ON))
    with st.container(horizontal=True):
        if st.button("Keep these limits", type="primary", key="keep_limits"):
            _save_limits(shipped, client, changes)
        if st.button("Take the change back", key="drop_limits"):
            _reset_fields()


def _save_limits(shipped: Exercise, client: Client | None, changes: Limits) -> None:
    with Store.open() as store:
        who = None if client is None else client.id
        store.set_limits(shipped.id, changes, created_at=datetime.now(UTC), client=who)
    _reset_fields()


def _reset_fields() -> None:
    """Show the fields as they are kept."""
    st.session_state["limits_stamp"] = st.session_state.get("limits_stamp", 0) + 1
    st.rerun()


def _show_history(shipped: Exercise, client: Client | None) -> None:
    with Store.open() as store:
        kept = store.limits_history(shipped.id, client=None if client is None else client.id)
    layout.show_section("Kept before")
    if not kept:
        st.html("<p>Never changed: formcheck’s own limits hold.</p>")
        return
    newest = kept[-1]
    if newest.changes and st.button("Back to formcheck’s own limits", key="reset_limits"):
        _save_limits(shipped, client, {})
    titles = {check.id: check for check in shipped.checks}
    for item in reversed(kept):
        with st.container(border=True, key=f"fc_limits_{item.id}"):
            st.html(shown.render_entry(item, titles, in_force=item is newest))
            if item is not newest and st.button("Bring these back", key=f"restore_{item.id}", help=f"Entry {item.id}"):
                with Store.open() as store:
                    store.restore_limits(item.id, created_at=datetime.now(UTC))
                _reset_fields()


main()
