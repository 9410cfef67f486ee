"""``unshare --net python in_namespace.py LOG COMMAND ...``: run it with a loopback alone, and log what else it tried.

Each line of the log is a counter of the kernel that rose (RFC 4293: ipSystemStatsOutNoRoutes): a connection or message
to an address to which there is no way.
"""

import fcntl
import socket
import struct
import subprocess
import sys
from pathlib import Path

SET_FLAGS, UP_AND_RUNNING = 0x8914, 0x41  # SIOCSIFFLAGS, IFF_UP | IFF_RUNNING of linux/sockios.h and linux/if.h


def counters() -> dict[str, int]:
    """Packets for which there was no way, by protocol."""
    names, values = (
        line.split()[1:] for line in Path("/proc/net/snmp").read_text().splitlines() if line.startswith("Ip:")
    )
    found = {"IPv4": int(dict(zip(names, values, strict=True))["OutNoRoutes"])}
    six = Path("/proc/net/snmp6")
    for line in six.read_text().splitlines() if six.exists() else ():
        if line.startswith("Ip6OutNoRoutes"):
            found["IPv6"] = int(line.split()[1])
    return found


def main(log: str, command: list[str]) -> int:
    """Run the command; its exit code."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:
        fcntl.ioctl(any_socket, SET_FLAGS, struct.pack("16sh14x", b"lo", UP_AND_RUNNING))
    before = counters()
    code = subprocess.run(command, check=False).returncode
    after = counters()
    lines = [f"{name}: {after[name] - before[name]} times no way out" for name in after if after[name] > before[name]]
    Path(log).write_text("\n".join(lines), encoding="utf-8")
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2:]))
