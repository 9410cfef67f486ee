"""Page: the clients, and one client over time."""

from formcheck.web import layout
from formcheck.web.client import client_list, overview
from formcheck.web.session_state import read_number


def main() -> None:
    """Show one client when the address names one, else all."""
    with layout.show_errors():
        client_id = read_number("client")
        if client_id is None:
            client_list.show()
        else:
            overview.show(client_id)


main()
