"""Commands by which a coach answers a review: agree or not, and the rep that later ones are held against."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from formcheck.cli import options
from formcheck.cli.group import cli

if TYPE_CHECKING:
    from formcheck.storage import Store


@cli.command()
@options.number
@click.option("--check", metavar="ID", help="The check to answer (see formcheck show EXERCISE).")
@click.option(
    "--rep", type=click.IntRange(1), metavar="REP", help="The rep to answer: is it one, and whole or partial?"
)
@click.option("--agree", "answer", flag_value="agree", help="You agree with what the review says.")
@click.option("--disagree", "answer", flag_value="disagree", help="You do not agree.")
@click.option("--take-back", "answer", flag_value="take back", help="Forget the answer given before.")
@click.option("--why", metavar="TEXT", help="The reason, in your own words.")
@options.with_store
def rate(number: int, check: str | None, rep: int | None, answer: str | None, why: str | None, store: "Store") -> None:
    """Agree or disagree with what review NUMBER says.

    Your answer is kept in the store and sent nowhere. Without an option: list the answers so far.
    """
    from formcheck.cli.printing_training import print_ratings
    from formcheck.coaching.rating import OF_REP, find_rating, rate_check, rate_rep
    from formcheck.core.errors import UsageError

    review = store.load_review(number)
    if answer is None and check is None and rep is None and why is None:
        print_ratings(review, store.ratings_of(number))
        return
    if (check is None) == (rep is None):
        raise click.UsageError("Say what you are answering: --check or --rep, one at a time.")
    if answer is None:
        raise click.UsageError("Say --agree, --disagree or --take-back.")
    if answer == "take back":
        given = find_rating(store.ratings_of(number), review, check=check or OF_REP, rep=rep)
        if given is None:
            raise UsageError(f"No answer to {f'rep {rep}' if rep else check} is kept in review {number}.")
        store.delete_rating(number, given)
        click.echo("Forgotten.")
        return
    agrees = answer == "agree"
    if rep is not None:
        made = rate_rep(review, rep, agrees=agrees, why=why)
        if (before := find_rating(store.ratings_of(number), review, rep=rep)) is not None:
            store.delete_rating(number, before)
    else:
        made = rate_check(review, check or "", agrees=agrees, why=why)
    store.save_rating(number, made, created_at=datetime.now(UTC))
    print_ratings(review, store.ratings_of(number))


@cli.command()
@click.option("--client", metavar="NAME", help="Only sets of this client.")
@options.exercise(help="Only sets of this exercise.")
@options.with_store
def agreement(client: str | None, exercise_id: str | None, store: "Store") -> None:
    """Count by check how often you agreed with reviews.

    In brackets: the range that holds the true share with 95 % confidence (Wilson's).
    """
    from formcheck.cli.printing_training import print_agreement
    from formcheck.coaching.rating import count_agreement

    number = None if client is None else store.get_client(client).id
    found = store.list_ratings(client=number, exercise_id=exercise_id)
    print_agreement(count_agreement((item.exercise_id, item.rating) for item in found))


@cli.group("reference")
def reference_rep() -> None:
    """A client's good rep, which other sets are compared with."""


@reference_rep.command("set")
@options.number
@click.argument("rep", type=click.IntRange(1))
@options.with_store
def set_reference_rep(number: int, rep: int, store: "Store") -> None:
    """Make REP of review NUMBER the reference rep.

    It replaces the client's earlier one for this exercise and camera side.
    """
    from formcheck.report.reference_text import describe_own
    from formcheck.services.reference_rep import choose_reference_rep

    choose_reference_rep(store, number, rep, created_at=datetime.now(UTC))
    click.echo(describe_own(rep))


@reference_rep.command("show")
@options.number
@click.option(
    "--against", type=options.ROW_ID, metavar="NUMBER", help="Compare with the reference rep of this review instead."
)
@options.with_store
def show_reference_rep(number: int, against: int | None, store: "Store") -> None:
    """Compare the set of review NUMBER with the client's reference rep."""
    from formcheck.cli.printing import make_console, print_reference
    from formcheck.core.errors import UsageError
    from formcheck.report.reference_text import describe_own, write_reason
    from formcheck.services import reference_rep as held

    review = store.load_review(number)
    if against is not None:
        review = held.hold_against_review(store, number, against)
    elif own := held.find_own_reference_rep(store, number, review):
        click.echo(describe_own(own))
        return
    else:
        review = held.attach_reference(store, number, review)
    if review.reference is None:
        raise UsageError(held.explain_no_reference(store, number, review) or write_reason("none", review=number))
    print_reference(make_console(), review)


@reference_rep.command("list")
@click.option("--client", metavar="NAME", help="Only those of this client.")
@options.with_store
def list_reference_reps(client: str | None, store: "Store") -> None:
    """List the reference reps."""
    from formcheck.cli.printing_training import print_reference_reps

    number = None if client is None else store.get_client(client).id
    names = {item.id: item.name for item in store.list_clients()}
    print_reference_reps([(names[item.client_id], item) for item in store.list_reference_reps(client=number)])


@reference_rep.command("remove")
@options.number
@options.with_store
def remove_reference_rep(number: int, store: "Store") -> None:
    """Use the reference rep of review NUMBER no longer."""
    store.load_review(number)
    store.remove_reference_rep(number)
    click.echo("Removed; no set is compared with it any more.")
