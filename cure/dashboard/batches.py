"""What cylinders say of batches, in the reader's language: the scatter of the sets, and each pour's own."""

from __future__ import annotations

from collections.abc import Iterator

from cure.batch import Batch
from cure.dashboard.reader import Reader
from cure.own_cylinders import assumed, wider_than_assumed
from cure.verification_report import Verification, percent
from shared.ports import MixRow


def batches_said(row: MixRow, v: Verification, reader: Reader) -> Iterator[str]:
    """Say what the cylinders of a version say of batches.

    Args:
        row: the version.
        v: how it stands.
        reader: in whose language.
    """
    found = wider_than_assumed(row.calibration, [s.ratio for s in v.sets])
    if found is not None:
        tenth, wider = found
        yield reader.say("sets-tenth", lower=percent(tenth.lower), assumed=percent(assumed(row.calibration)))
        if wider:
            yield reader.say("sets-tenth-wider")
    for pour, batch in v.batches.items():
        line = reader.say(
            "own-line", pour=pour, count=batch.cylinders, ratio=percent(batch.ratio), sd=percent(batch.sd_ratio)
        )
        yield "; ".join((line, *counts_said(batch, reader, rule=v.own_rule)))


def counts_said(batch: Batch, reader: Reader, *, rule: bool) -> Iterator[str]:
    """Say how a pour's own cylinders count."""
    if not rule:
        yield reader.say("own-no-rule")
        return
    if batch.lowers_to >= 1.0:
        yield reader.say("own-lowers-nothing")
    else:
        yield reader.say("own-lowers", ratio=percent(batch.lowers_to))
    if batch.narrows_to is not None:
        yield reader.say("own-narrows", sd=percent(batch.narrows_to))
        return
    nothing = reader.say("own-narrows-nothing")
    yield nothing + (f" ({reader.say(f'own-not-{batch.why_not}')})" if batch.why_not else "")
