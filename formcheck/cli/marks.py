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
@click.option("--agree", "answer", flag_value="agree", help="You agree with what the review says of it.")
@click.option("--disagree", "answer", flag_value="disagree", help="You do not.")
@click.option("--take-back", "answer", flag_value="take back", help="Forget the answer given before.")
@click.option("--why", metavar="TEXT", help="In your own words.")
@options.with_store
def rate(number: int, check: str | None, rep: int | None, answer: str | None, why: str | None, store: "Store") -> None:
    """Agree or disagree with what review NUMBER says.

    It is kept in the store and sent nowhere. Without any option it lists the answers given so far.
    """
    from formcheck.cli.printing_training import print_ratings
    from formcheck.coaching.rating import OF_REP, find_rating, rate_check, rate_rep
    from formcheck.core.errors import UsageError

    review = store.load_review(number)
    if answer is None and check is None and rep is None and why is None:
        print_ratings(review, store.ratings_of(number))
        return
    if (check is None) == (rep is None):
        raise click.UsageError("Say what you answer: --check or --rep, one a call.")
    if answer is None:
        raise click.UsageError("Say --agree, --disagree or --take-back.")
    if answer == "take back":
        given = find_rating(store.ratings_of(number), review, check=check or OF_REP, rep=rep)
        if given is None:
            raise UsageError(f"No answer is kept of {f'rep {rep}' if rep else check} in review {number}.")
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

    The share that agrees has its 95 % interval (Wilson's).
    """
    from formcheck.cli.printing_training import print_agreement
    from formcheck.coaching.rating import count_agreement

    number = None if client is None else store.get_client(client).id
    found = store.list_ratings(client=number, exercise_id=exercise_id)
    print_agreement(count_agreement((item.exercise_id, item.rating) for item in found))
