"""Handing over a client's data: exported whole, deleted whole."""
