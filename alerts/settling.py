"""What follows when an attempt is over: its row, withdrawals that must go again, the news that somebody got nothing.

Each function works inside the transaction that it is given.
"""

from __future__ import annotations

from alerts.delivery import answered, lost, overtaken, resolved
from alerts.escalation import given_up
from shared.models.base import Ms
from shared.models.decisions import LogEntry
from shared.models.messages import PERMITS, Delivery, Due, Outcome
from shared.ports import DeliveryTransaction


def record(rows: DeliveryTransaction, delivery: Delivery, now: Ms) -> None:
    """Store a row with its line in the log."""
    body = {
        "message": delivery.message,
        "recipient": delivery.recipient,
        "channel": delivery.channel,
        "state": delivery.state.value,
        "attempt": delivery.attempt,
        "outcome": delivery.outcome,
    }
    rows.write(delivery, LogEntry(now, "alerts", "delivery", body))


def settle(rows: DeliveryTransaction, delivery: int, outcome: Outcome, token: str, now: Ms) -> None:
    """Write the answer of an attempt; the answer of another lease changes nothing."""
    current = rows.one(delivery)
    after = answered(current, outcome, token, now)
    if after != current.delivery:
        _followed_up(rows, after, now)


def lose(rows: DeliveryTransaction, due: Due, why: str, now: Ms) -> None:
    """Write that an attempt's caller died."""
    _followed_up(rows, lost(due, now, why), now)


def resolve(rows: DeliveryTransaction, due: Due, now: Ms) -> bool:
    """Decide what becomes of an unsure row; False while its gate is in doubt."""
    after = resolved(due, now)
    if after is not None:
        _followed_up(rows, after, now)
    return after is not None


def _followed_up(rows: DeliveryTransaction, after: Delivery, now: Ms) -> None:
    record(rows, after, now)
    due = rows.one(after.no)
    if due.message.kind in PERMITS:
        for again in overtaken(due, rows.withdrawals(due), now):
            record(rows, again, now)
    news = given_up(due, [row.delivery for row in rows.rows_of(after.message)], now)
    if news is not None:
        rows.tell(news)
