"""The ports: what each package needs of the clock, the stores and a channel. One method = one transaction.

Times are int milliseconds UTC, temperatures int thousandths of a degree Celsius. Adapters raise `StoreError` and
nothing else of their driver's. Contract suites: `tests/contracts`.
"""

from __future__ import annotations

from shared.ports.alerts import AlertsBook, DeliveryTransaction
from shared.ports.board import BoardBook, BoardRow, MixPour, MixRow
from shared.ports.clock import Clock
from shared.ports.cure import CureBook, PourCase, Result, SinceStart
from shared.ports.people import PeopleBook
from shared.ports.readings import IngestBook, NewArrivals, Readings, ReadingsIn, ReadingsServer, RefusedBook
from shared.ports.service import PourRecord, ServiceBook
from shared.ports.share import NoShare, Share, Whole
from shared.ports.tokens import TokenBook
from shared.ports.told import Decided, ToldBook, Which
from shared.ports.weather import ForecastBook, WeatherBook

__all__ = [
    "AlertsBook",
    "BoardBook",
    "BoardRow",
    "Clock",
    "CureBook",
    "Decided",
    "DeliveryTransaction",
    "ForecastBook",
    "IngestBook",
    "MixPour",
    "MixRow",
    "NewArrivals",
    "NoShare",
    "PeopleBook",
    "PourCase",
    "PourRecord",
    "Readings",
    "ReadingsIn",
    "ReadingsServer",
    "RefusedBook",
    "Result",
    "ServiceBook",
    "Share",
    "SinceStart",
    "TokenBook",
    "ToldBook",
    "WeatherBook",
    "Which",
    "Whole",
]
