"""What became of each sensor's readings, for people: credited, kept without credit and why, refused and why. Pure.

Three different things, told as three: what is kept without credit is still watched for cold, what is refused counts as
if nothing had been said. What was refused on its way in stands on the page of its logger.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from cure.dashboard.reader import Reader
from shared.models.base import Ms
from shared.models.estimate import Estimate, KeptReadings, SensorAccount
from shared.sequence import Followed


def accounts(estimate: Estimate | None, reader: Reader, now_ms: Ms) -> Mapping[str, tuple[str, ...]]:
    """Return the sentences of each sensor of an open pour; `estimate` None: there is none."""
    every = () if estimate is None else estimate.sensors
    return {account.sensor: tuple(_account(account, reader, now_ms)) for account in every}


def key_of(reason: str) -> str:
    """Return the key of the words of a reason for which readings are kept without credit, or are as if unsaid."""
    return f"kept-{re.sub(r'[^a-z]+', '-', reason.lower())}"


def _account(account: SensorAccount, reader: Reader, now_ms: Ms) -> Iterator[str]:
    yield reader.say("account-credited", count=str(account.credited))
    for kept in account.kept:
        yield _kept(kept, reader, now_ms)
    if account.refused:
        whys = [
            reader.say("account-why", count=str(n), why=reader.say(key_of(why))) for why, n in account.refused.items()
        ]
        yield reader.say("account-refused", whys=", ".join(whys))


def _kept(kept: KeptReadings, reader: Reader, now_ms: Ms) -> str:
    until = reader.say("account-now") if kept.to_ms is None else reader.hour(kept.to_ms, now_ms)
    since, why = reader.hour(kept.from_ms, now_ms), reader.say(key_of(kept.reason))
    return reader.say("account-kept", count=str(kept.readings), why=why, since=since, until=until)


def missing_words(followed: Sequence[Followed], logger: str, reader: Reader) -> str:
    """Return which numbers of a logger's messages never came; "": none that is known of."""
    of = next((one for one in followed if one.logger == logger), None)
    if of is None or not of.missing:
        return ""
    spans = ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in of.missing)
    return reader.say("numbers-missing", count=str(sum(b - a + 1 for a, b in of.missing)), spans=spans)
