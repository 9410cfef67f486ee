"""The page's fixtures, for the work beside it."""

from tests.web.conftest import launched, open_page, store_review

__all__ = ["launched", "open_page", "store_review"]
