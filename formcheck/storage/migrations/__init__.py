"""The store's migrations, in order; each is written once and never changed after a release."""
