"""Parts of a client's page."""
