"""Page: the clients, and one client over time."""

import re

import streamlit as st

from formcheck.web import layout
from formcheck.web.client import client_list, overview


def main() -> None:
    """Show one client when the address names one, else all."""
    with layout.show_errors():
        wanted = st.query_params.get("client", "")
        if re.fullmatch("[0-9]{1,15}", wanted):
            overview.show(int(wanted))
        else:
            client_list.show()


main()
