"""Part of a review: whether the coach agrees with a point or a rep, and which rep is the reference rep."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

import streamlit as st

from formcheck.coaching.rating import LONGEST_WHY, OF_REP, Rating, find_rating, rate_check, rate_rep
from formcheck.core.model import Review
from formcheck.exercises.schema import Exercise
from formcheck.report.rating_text import describe_agreement_in_set, describe_rating
from formcheck.report.reference_text import describe_comparison, describe_own
from formcheck.report.summary import get_title
from formcheck.services.reference_rep import choose_reference_rep, explain_no_reference, find_own_reference_rep
from formcheck.storage import Store
from formcheck.web import layout
from formcheck.web.components.assets import declare_component, mount_actions
from formcheck.web.markup import render

_answers = declare_component("answers", "answers.js", isolate_styles=False)
_TOLD = 2
"""Differences from the reference rep in sight; the others are in the report."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What was answered to a review so far."""

    ratings: tuple[Rating, ...] = ()
    own: int | None = None
    """The rep of this set that is the reference rep."""
    reference: tuple[str, ...] = ()
    """What is said of the set beside the reference rep, a sentence each."""
    pressed: Mapping[str, bool] = field(default_factory=dict)
    """``check:ID`` or ``rep:NUMBER`` → whether the coach agrees."""


def load_answers(review_id: int, review: Review) -> Answers:
    """What is stored (StoreError)."""
    with Store.open() as store:
        ratings = tuple(store.ratings_of(review_id))
        own = find_own_reference_rep(store, review_id, review)
        why = "" if own or review.reference else explain_no_reference(store, review_id, review)
    pressed = {f"check:{item.check}": item.agrees for item in ratings if item.check != OF_REP}
    for rep in review.reps:
        if (found := find_rating(ratings, review, rep=rep.number)) is not None:
            pressed[f"rep:{rep.number}"] = found.agrees
    said = [describe_own(own)] if own else [why] if why else []
    if review.reference is not None:
        *told, where = describe_comparison(review.reference)
        said = [*told[:_TOLD], where]
    return Answers(ratings, own, tuple(said), pressed)


def show_reference(given: Answers) -> None:
    """What is said of the set beside the reference rep; nothing where there is none."""
    if given.reference:
        st.html(render("review", "reference", given.reference))


def take(scope: str, review_id: int, review: Review, given: Answers) -> None:
    """Keep what was pressed; the same pressed again takes it back."""
    sent = mount_actions(_answers, "fc_answers", scope)
    if not isinstance(sent, dict):
        return
    what, do = str(sent.get("what")), sent.get("do")
    kind, _, name = what.partition(":")
    with layout.show_errors(), Store.open() as store:
        if do == "reference" and name.isdecimal():
            if given.own == int(name):
                store.remove_reference_rep(review_id)
            else:
                choose_reference_rep(store, review_id, int(name), created_at=datetime.now(UTC))
        elif do in ("agree", "disagree") and (kind == "check" or name.isdecimal()):
            _keep(store, review_id, review, given, what, agrees=do == "agree")
        else:
            return
        st.rerun()


def _keep(store: Store, review_id: int, review: Review, given: Answers, what: str, *, agrees: bool) -> None:
    kind, _, name = what.partition(":")
    rep = int(name) if kind == "rep" else None
    before = find_rating(given.ratings, review, check=OF_REP if rep else name, rep=rep)
    if before is not None:
        store.delete_rating(review_id, before)
        if before.agrees == agrees:
            return
    made = rate_check(review, name, agrees=agrees) if rep is None else rate_rep(review, rep, agrees=agrees)
    store.save_rating(review_id, made, created_at=datetime.now(UTC))


def show(review_id: int, review: Review, exercise: Exercise | None, given: Answers) -> None:
    """What was answered in one line, and each with room for the reason; nothing where nothing was."""
    if not given.ratings:
        return
    with st.expander(describe_agreement_in_set(given.ratings), key="answers_given"):
        titles = {item.check: get_title(exercise, item.check) for item in given.ratings if item.check != OF_REP}
        for rating in given.ratings:
            label = layout.escape_markdown(f"{describe_rating(rating, review, titles)}. Why?")
            key = f"why_{review_id}_{rating.check}_{rating.rep_s}"
            why = " ".join(st.text_input(label, rating.why or "", max_chars=LONGEST_WHY, key=key).split()) or None
            if why != rating.why:
                changed = Rating(rating.check, rating.verdict, rating.agrees, why, rating.rep_s)
                with layout.show_errors(), Store.open() as store:
                    store.save_rating(review_id, changed, created_at=datetime.now(UTC))
                    st.rerun()
