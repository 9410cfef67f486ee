"""Charts and drawings of the page as pure functions."""
