"""Where a site's broker is, and who reaches the embedded one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from deploy.pem import pem_files
from ingest.address import BrokerAddress
from ingest.broker_access import LOOPBACK, OWN_USER, Access, read_users
from shared.errors import Fault, SetupError
from shared.models.payloads import default_topic
from shared.models.setup import Setup
from shared.models.weather import TopicWeather


def _secret(setup: Setup, name: str | None, field: str) -> str | None:
    if name is None:
        return None
    path = Path(setup.folder, name)
    try:
        return path.read_text(encoding="utf-8").strip()
    except OSError as error:
        fault = Fault("site file", None, f"broker.{field}", f"{name}: {error.strerror}", "a file that can be read")
        raise SetupError([fault]) from error


def broker_address(setup: Setup) -> BrokerAddress:
    """Return where the site's broker is, the embedded one or its own. Raises `SetupError`: a file is not there."""
    broker = setup.site.broker
    if broker.kind == "embedded" or broker.url is None:
        return BrokerAddress(Access(broker.listen or LOOPBACK).host, broker.port)
    ca = None if broker.ca_file is None else str(Path(setup.folder, broker.ca_file))
    password = _secret(setup, broker.password_file, "password_file")
    where = BrokerAddress.from_url(broker.url, broker.user, password, ca)
    certificate, key = pem_files(setup, "broker", broker)
    return where if certificate is None else replace(where, cert_file=str(certificate), key_file=str(key))


def access_of(setup: Setup) -> Access:
    """Return who reaches the embedded broker. Raises `SetupError` when a file cannot be read."""
    broker = setup.site.broker
    certificate, key = pem_files(setup, "broker", broker)
    users = _secret(setup, broker.loggers_file, "loggers_file")
    return Access(
        listen=broker.listen or LOOPBACK,
        cert_file=certificate,
        key_file=key,
        users={} if users is None else read_users(users, str(broker.loggers_file)),
        filters=[*filters_of(setup), *_weather_topics(setup)],
    )


def filters_of(setup: Setup) -> list[str]:
    """Return the topics on which loggers speak."""
    site = setup.site
    return [topic.filter for topic in site.topic or (default_topic(site.site.site_id),)]


def _weather_topics(setup: Setup) -> list[str]:
    weather = setup.site.weather
    return [weather.topic] if isinstance(weather, TopicWeather) else []


def own_address(access: Access, port: int) -> BrokerAddress:
    """Return where the embedded broker is for the service itself."""
    user, password = (OWN_USER, access.own_password) if access.users else (None, None)
    return BrokerAddress(access.host, port, user, password, context=access.own_context())
