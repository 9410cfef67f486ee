"""Parts of the list of reviewed sets, and of the way from one to the next."""
