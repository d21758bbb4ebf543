from __future__ import annotations

import time
from pathlib import Path
from threading import Event

import pytest
from backup_support import SIGNED_MS, little_setup, released_site
from ingest_support import until
from mqtt_support import free_port

from alerts.transport import RecordingTransport
from deploy.backup import found_in, verified
from deploy.housekeeping import state_of
from deploy.serve import DispatchLoop, running
from shared.clock import SimulatedClock


def test_the_dispatcher_turns_at_once_when_it_is_woken_and_ends_when_it_is_closed() -> None:
    turned = Event()

    def turn() -> int:
        turned.set()
        return 0

    loop = DispatchLoop(turn, 3600.0)
    loop.start()
    try:
        assert turned.wait(60)
        turned.clear()
        loop.wake()
        assert turned.wait(60)
    finally:
        begun = time.monotonic()
        loop.close()
    assert time.monotonic() - begun < 60


@pytest.mark.row("S14")
def test_a_running_service_backs_itself_up_and_ends_in_time_also_amid_that(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("deploy.serve.LOOK_S", 0.1)
    released_site(tmp_path)
    tables = '[backup]\nfolder = "backups"\n[[mix]]'
    setup = little_setup(tmp_path, **{"port = 1883": f"port = {free_port()}", "[[mix]]": tables})
    with running(setup, SimulatedClock(SIGNED_MS), transport=RecordingTransport()) as parts:
        until(lambda: state_of(parts.service.folder) is not None, 60)
        state = state_of(parts.service.folder)
        assert state is not None
        assert state.wrong == ()
    (made,) = found_in(tmp_path / "backups", "millrace")
    assert verified(made).at_ms == SIGNED_MS
    assert str(made) == state.backup
