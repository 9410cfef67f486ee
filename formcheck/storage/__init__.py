"""The store: reviews, clients, plans, notes and jobs in a database, an SQLite file by default, PostgreSQL by URL.

Every change is one transaction and is either there whole or not at all, whatever kills the program. The database is
loaded when it is asked for: who only wants the data folder's paths does not wait for it.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from formcheck.storage.rows import Client, Revision, Session, StoredLimits, StoredPlan, StoredReview
    from formcheck.storage.store import Store

__all__ = ["Client", "Revision", "Session", "Store", "StoredLimits", "StoredPlan", "StoredReview"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from formcheck.storage import rows, store

    return getattr(store if name == "Store" else rows, name)
