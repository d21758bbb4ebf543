"""The whole service killed with -9 five times under load: it releases, withdraws, and a logger sends without end.

What the broker has acknowledged is stored or refused, by the publisher's own ledger; what was told is told once, by a
mail server that is slow, and the last thing that anybody holds is true. `FAULT_SCALE=4` kills twenty times.
"""

from __future__ import annotations

import random
import time
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from threading import Event

import pytest
from aiosmtpd.controller import Controller
from buffered_logger import Buffered
from ingest_support import until
from mqtt_support import free_port
from oracle_files import PERMITS, kept, numbers_of, planted, rows, told, whole
from quick_service import FastClock
from readme_support import Postbox
from scale import SCALE
from yard_process import (
    BASE_MS,
    LOGGER,
    OPERATIONS,
    PEOPLE,
    RATE,
    WORD,
    fill,
    handed,
    listened,
    message,
    said,
    serving,
    write_site,
)

from deploy.control import hand_in
from shared.errors import SlabError
from shared.models.acts import Confirm, Sign, Stop, instant

LOOPS = max(2, round(5 * SCALE))
SEED = random.SystemRandom().randrange(10**9)


class _SlowBox(Postbox):
    """Takes a while over each mail, so that a kill meets some on their way."""

    async def handle_DATA(self, server: object, session: object, envelope: object) -> str:  # noqa: N802
        Event().wait(0.15)
        return await super().handle_DATA(server, session, envelope)


@pytest.mark.long
@pytest.mark.row("A5", "A6", "A7", "A8", "N3", "H2")
def test_kills_under_load_lose_no_reading_and_leave_everybody_with_the_truth(tmp_path: Path) -> None:
    print(f"seed {SEED}")
    dice = random.Random(SEED)
    box, smtp, mqtt = _SlowBox(), free_port(), free_port()
    site, base_s = write_site(tmp_path, mqtt, smtp, LOOPS), time.monotonic()
    data, logger = tmp_path / "var", None
    fill(site, FastClock(BASE_MS, base_s, RATE), LOOPS)
    mail = Controller(box, hostname="127.0.0.1", port=smtp)
    mail.start()
    try:
        for n in range(LOOPS):
            with serving(site, base_s) as process:
                if logger is None:
                    listened(data, mqtt)
                    logger = Buffered(mqtt, message, every_s=0.02, user=(LOGGER, WORD))
                a_loop(site, f"1-b{n}-p1", box if n % 2 == 0 else None, dice)
                process.kill()
                process.wait()
        assert logger is not None
        with serving(site, base_s):
            sent = logger.stop()
            acknowledged = {message(k)[1]: said(k) for k in logger.acknowledged}
            until(lambda: not unfinished(data) and not list(kept(data, acknowledged)), 120)
    finally:
        mail.stop()
        if logger is not None:
            logger.end()
    log = tmp_path / "serve.log"
    assert "Traceback" not in log.read_text(encoding="utf-8")
    judge(data, box, sent, acknowledged)
    assert list(planted([log], [WORD])) == []
    print(f"{LOOPS} kills in {time.monotonic() - base_s:.0f} s: {sent} messages, {len(box.mails)} mails")


def a_loop(site: Path, pour: str, box: _SlowBox | None, dice: random.Random) -> None:
    """Release and withdraw a pour; `box`: not before somebody holds the release."""
    now, before = instant(BASE_MS), 0 if box is None else len(box.mails)
    answer_the_last(site, now)
    handed(site, Sign(at=now, who="qc", pour=pour, operations=OPERATIONS))
    if box is not None:
        assert box.wait_for(lambda mails: any(is_permit(site, no) for m in mails[before:] for no in numbers_of(m)), 60)
    Event().wait(dice.uniform(0.0, 4.0 if box is None else 0.5))
    handed(site, Stop(at=now, who="super", pour=pour, why="crack seen"))
    Event().wait(dice.uniform(0.0, 1.0))


def is_permit(site: Path, no: int) -> bool:
    (found,) = rows(site.parent / "var" / "site.db", "SELECT kind FROM message WHERE no = ?", [no])
    return found["kind"] in PERMITS


def answer_the_last(site: Path, now: datetime) -> None:
    """Say "area clear" to what was accepted of the loops before: else its repeats would fill the channel."""
    query = "SELECT DISTINCT m.no FROM delivery d JOIN message m ON m.no = d.message WHERE m.kind = 'withdrawal' "
    for (no,) in rows(site.parent / "var" / "site.db", query + "AND d.state = 'accepted'"):
        with suppress(SlabError):
            hand_in(site.parent / "var", Confirm(at=now, who="super", message=no))


def unfinished(data: Path) -> list[object]:
    """Return deliveries of withdrawals that nobody's server has accepted yet."""
    query = "SELECT d.no FROM delivery d JOIN message m ON m.no = d.message WHERE m.kind = 'withdrawal' "
    return [*rows(data / "site.db", query + "AND d.accepted_ms IS NULL AND d.state <> 'confirmed'")]


def judge(data: Path, box: _SlowBox, sent: int, acknowledged: dict[bytes, list[tuple[str, int, int]]]) -> None:
    assert len(acknowledged) == sent > 20 * LOOPS, "too few came to say anything"
    assert [*kept(data, acknowledged), *told(data, box.mails), *whole(data)] == []
    bad = {payload for payload, several in acknowledged.items() if several[0][2] > 90_000}
    assert {bytes(r["payload"]) for r in rows(data / "site.db", "SELECT payload FROM refused")} >= bad
    gates = rows(data / "site.db", "SELECT pour, operation FROM gate WHERE state = 'withdrawn'")
    withdrawn = {(g["pour"], g["operation"]) for g in gates}
    assert withdrawn >= {(f"1-b{n}-p1", operation) for n in range(LOOPS) for operation in OPERATIONS}
    about = {m["no"]: m for m in rows(data / "site.db", "SELECT no, kind, pour, subject FROM message")}
    heard = {
        (about[no]["pour"], about[no]["subject"], str(mail["To"]).split("@")[0])
        for mail in box.mails
        for no in numbers_of(mail)
        if about[no]["kind"] == "withdrawal"
    }
    assert heard >= {(*one, who) for one in withdrawn for who in PEOPLE}
