"""Weather on the broker: messages of its topic are taken aside, all others go on to the readings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from ingest.message import Incoming
from ingest.sheet import Taken
from ingest.weather_intake import WeatherIntake


class Takes(Protocol):
    """What a listener feeds."""

    def subscriptions(self) -> Sequence[tuple[str, int]]:
        """Return the filters to subscribe to, each with its QoS."""

    def incoming(self, topic: str, payload: bytes, *, may_have_waited: bool = False) -> Incoming:
        """Return the message stamped with the hour it came."""

    def take(self, batch: Sequence[Incoming]) -> Sequence[Taken]:
        """Make everything in the batch durable. Raises `StoreError`: then nothing may be acknowledged."""


class WithWeather:
    """Takes readings and, beside them, the weather."""

    def __init__(self, readings: Takes, topic: str, weather: WeatherIntake) -> None:
        self._readings, self._topic, self._weather = readings, topic, weather

    def subscriptions(self) -> Sequence[tuple[str, int]]:
        return [*self._readings.subscriptions(), (self._topic, 1)]

    def incoming(self, topic: str, payload: bytes, *, may_have_waited: bool = False) -> Incoming:
        return self._readings.incoming(topic, payload, may_have_waited=may_have_waited)

    def take(self, batch: Sequence[Incoming]) -> Sequence[Taken]:
        # One that came by another way than the broker bears its own way of reading: it is none of the topic's.
        of_weather = [message.topic == self._topic and message.way is None for message in batch]
        for message, is_weather in zip(batch, of_weather, strict=True):
            if is_weather:
                # What is refused is written down with its reason, as readings are.
                self._weather.take(message.payload)
        others = [message for message, is_weather in zip(batch, of_weather, strict=True) if not is_weather]
        taken = iter(self._readings.take(others) if others else ())
        return [Taken() if is_weather else next(taken) for is_weather in of_weather]
