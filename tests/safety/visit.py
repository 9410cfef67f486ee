"""``python visit.py COMMAND ...``: start the page by this command, knock as a foreign page, visit it, and stop it.

Prints the status the foreign page's WebSocket was answered with, then how many messages the visitor was sent.
"""

import socket
import subprocess
import sys
import time
import urllib.request

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect


def main(command: list[str]) -> int:
    """Exit code 0 when the foreign page was refused and the visitor was sent a page."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    page = subprocess.Popen([*command, f"--server.port={port}", "--server.headless=true"])
    try:
        direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        for _ in range(600):
            try:
                direct.open(f"http://127.0.0.1:{port}/_stcore/health", timeout=5).close()
                break
            except OSError:
                if page.poll() is not None:
                    return 3
                time.sleep(0.25)
        address = f"ws://127.0.0.1:{port}/_stcore/stream"
        try:
            connect(address, origin="http://elsewhere.example", proxy=None, open_timeout=120).close()
            return 4
        except InvalidStatus as refused:
            sys.stdout.write(f"{refused.response.status_code}\n")
        sent = 0
        own = f"http://127.0.0.1:{port}"
        with connect(address, origin=own, proxy=None, max_size=None, open_timeout=120) as visitor:
            visitor.send(BackMsg(rerun_script={}).SerializeToString())
            done = False
            while not done:
                message = ForwardMsg.FromString(bytes(visitor.recv(timeout=120, decode=False)))
                done = message.WhichOneof("type") == "script_finished"
                sent += 1
        sys.stdout.write(f"{sent}\n")
        return 0 if sent > 5 else 5
    finally:
        page.terminate()
        page.wait(60)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
