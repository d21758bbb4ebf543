from __future__ import annotations

import time
from threading import Event

from deploy.serve import DispatchLoop


def test_the_dispatcher_turns_at_once_when_it_is_woken_and_ends_when_it_is_closed() -> None:
    turned = Event()

    def turn() -> int:
        turned.set()
        return 0

    loop = DispatchLoop(turn, 60.0)
    loop.start()
    try:
        assert turned.wait(5)
        turned.clear()
        loop.wake()
        assert turned.wait(5)
    finally:
        begun = time.monotonic()
        loop.close()
    assert time.monotonic() - begun < 5
