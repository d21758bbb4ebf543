"""Ports that nothing else takes before the test has used them."""

from __future__ import annotations

import os
import socket
from itertools import count
from pathlib import Path
from typing import Final

_FIRST: Final = 10_000
_SHARES: Final = 16
"""As many workers of a session each have ports of their own."""
_EPHEMERAL: Final = Path("/proc/sys/net/ipv4/ip_local_port_range")


def _share() -> range:
    """Return this worker's ports: below those that the system gives to whoever connects or asks for any."""
    end = int(_EPHEMERAL.read_text(encoding="ascii").split()[0]) if _EPHEMERAL.is_file() else 32_768
    width = max(0, end - _FIRST) // _SHARES
    begin = _FIRST + int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) % _SHARES * width
    return range(begin, begin + width)


_MINE: Final = _share()
# By the process: a session beside this one has the same share.
_NEXT: Final = count(os.getpid() * 37)


def _is_free(port: int) -> bool:
    with socket.socket() as probe:
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


def free_port() -> int:
    """Return a loopback port that is free, and that this worker has not lent for a long time."""
    for _ in _MINE:
        port = _MINE[next(_NEXT) % len(_MINE)]
        if _is_free(port):
            return port
    with socket.socket() as probe:
        # A system whose own ports leave no room for ours.
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
