"""The page: one short file a page, one typed state, charts and pieces as pure functions."""
