"""Pieces of the page: HTML text and components with scripts of their own."""
