"""The defences on a reading's way in and in the stores, and the rules of screening, and how to switch each off."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pytest
from switching import Switches, put, rewritten

import cure.doubts
import cure.erratic
import ingest.intake
import shared.sequence
from cure.seen import Seen
from ingest import screening
from ingest.intake import Intake
from ingest.listener import Listener
from shared.store import chain, codec, readings_influx, readings_sqlite
from shared.store.book_service import SqlServiceBook


def nothing(*_: object) -> tuple[()]:
    """Find nothing."""
    return ()


def _no_error_values(s: Seen, *_: object) -> Any:
    return np.zeros(len(s.series), dtype=bool)


def another_interval_is_told(patch: pytest.MonkeyPatch) -> None:
    """L13: silence and gaps are judged by the interval that is set up."""
    rewritten(patch, cure.erratic.other_pace, ("    if even and not", "    if False and not"))


def a_batch_stamped_on_arrival_counts_for_nothing(patch: pytest.MonkeyPatch) -> None:
    """R3: its hours are not those in which it was measured."""
    rewritten(patch, cure.erratic.batches, ("    if spans:", "    if False:"))


def an_acknowledgement_stays_on_its_connection(patch: pytest.MonkeyPatch) -> None:
    """N4: on another connection its number is that of another message."""
    rewritten(patch, Listener._acknowledge, ("brought.connection != self._number", "False"))


def what_was_never_placed_is_unknown(patch: pytest.MonkeyPatch) -> None:
    """N9: a sensor that lies nowhere is no sensor."""
    words = 'return Reason.UNKNOWN_SENSOR, f"{record.sensor} is placed in no bay of the site file"'
    rewritten(patch, screening.screen, (words, "return None"))


def what_was_acknowledged_is_read_back(patch: pytest.MonkeyPatch) -> None:
    """S1: a server that says yes and stores nothing is found out."""
    rewritten(patch, readings_influx.InfluxReadings._merged, ("    if lost:", "    if False:"))


def a_log_has_the_lines_that_are_kept_elsewhere(patch: pytest.MonkeyPatch) -> None:
    """S7: an older book that is put back lacks them."""
    rewritten(patch, chain.verify, ("in anchors:", "in ():"))


def no_json_holds_what_is_no_number(patch: pytest.MonkeyPatch) -> None:
    """S8: of the site book."""
    rewritten(patch, codec.canonical, ("allow_nan=False", "allow_nan=True"))


def the_colder_is_not_overwritten(patch: pytest.MonkeyPatch) -> None:
    """S11: of two values for one hour the store keeps the colder, and says that there were two."""
    rewritten(patch, readings_sqlite._coldest, ("kept = min(", "kept = max("))


_NOT_STRICT: Final = readings_sqlite._SCHEMA.replace(") STRICT, ", ") ").replace(") STRICT;", ");")
SWITCHES: Final[Switches] = {
    "L3": put(cure.erratic, "error_values", _no_error_values),
    "L5": (put(cure.doubts, "_restless", nothing), put(cure.doubts, "unseen", nothing)),
    "L13": another_interval_is_told,
    "L16": put(cure.erratic, "unit_slips", nothing),
    "R3": a_batch_stamped_on_arrival_counts_for_nothing,
    "R4": (put(ingest.intake, "played_again", lambda *_: set()), put(shared.sequence, "_and_this", nothing)),
    "R8": put(cure.erratic, "spikes", nothing),
    "N3": put(Intake, "_replaced", nothing),
    "N4": an_acknowledgement_stays_on_its_connection,
    "N9": what_was_never_placed_is_unknown,
    "S1": what_was_acknowledged_is_read_back,
    "S6": put(SqlServiceBook, "damage", lambda _: None),
    "S7": a_log_has_the_lines_that_are_kept_elsewhere,
    "S8": (no_json_holds_what_is_no_number, put(readings_sqlite, "_SCHEMA", _NOT_STRICT)),
    "S11": the_colder_is_not_overwritten,
}
