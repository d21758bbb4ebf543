"""What each kind of message says: one line of a table a kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from alerts import phrases_gates as gates
from alerts import phrases_site as site
from alerts import phrases_watch as watch
from alerts.phrase import Phrase
from alerts.telling import Telling
from shared.models.messages import MessageKind

PHRASES: Final[dict[MessageKind, Callable[[Telling], Phrase]]] = {
    MessageKind.SIGN_OFF_WANTED: gates.sign_off_wanted,
    MessageKind.RELEASED: gates.released,
    MessageKind.MET_NOT_SIGNED: gates.met_not_signed,
    MessageKind.COLD_DELAY: watch.cold_delay,
    MessageKind.FREEZE_SUSPECTED: watch.held,
    MessageKind.FREEZE_LOCKED: watch.held,
    MessageKind.HOLD: watch.held,
    MessageKind.LOGGER_SILENT: watch.logger_silent,
    MessageKind.WITHDRAWAL: gates.withdrawal,
    MessageKind.KEEP_OFF: gates.keep_off,
    MessageKind.RELEASED_EARLY: gates.released_early,
    MessageKind.TOO_HOT: watch.too_hot,
    MessageKind.TOO_STEEP: watch.too_steep,
    MessageKind.FREEZING_AHEAD: watch.freezing_ahead,
    MessageKind.DRYING_RISK: watch.drying_risk,
    MessageKind.COVER_TONIGHT: site.cover_tonight,
    MessageKind.LOGGER_DOUBTFUL: watch.logger_doubtful,
    MessageKind.LOW_BATTERY: site.low_battery,
    MessageKind.CALIBRATION: site.calibration,
    MessageKind.DELIVERY_FAILED: site.delivery_failed,
    MessageKind.IN_DOUBT: gates.in_doubt,
    MessageKind.MORNING_LIST: site.morning_list,
    MessageKind.HANDOVER: site.handover,
    MessageKind.TEST: site.channel_test,
}
