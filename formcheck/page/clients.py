"""Page: the clients, and one client over time."""

import re

import streamlit as st

from formcheck.page import client_list, client_over_time, frame


def main() -> None:
    """Show one client when the address names one, else all."""
    with frame.told():
        wanted = st.query_params.get("client", "")
        if re.fullmatch("[0-9]{1,15}", wanted):
            client_over_time.show(int(wanted))
        else:
            client_list.show()


main()
