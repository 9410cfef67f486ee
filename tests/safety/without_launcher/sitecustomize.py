"""Leaves Streamlit's own address look-up in place in every Python process whose PYTHONPATH holds this folder."""

from formcheck.web import launcher

launcher.stop_address_lookups = lambda: None
