"""What one field of a site file cannot know: checks over the whole of it.

Each check takes the values of the file with None in place of those already found at fault: what is not None is of the
right kind, and anything may be absent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from difflib import get_close_matches
from typing import Final

from shared.file_checks import incoming_is_whole
from shared.models.people import is_allowed
from shared.models.setup import BrokerSettings, SensorSettings, SiteSettings, Zone
from shared.payload_checks import PAYLOAD_CHECKS
from shared.requirement_checks import REQUIREMENT_CHECKS
from shared.site_tables import ids, in_force, listed, nested, table_of, tables
from shared.toml_lines import Path
from shared.toml_model import Doubt, Table, shown
from shared.weather_checks import WEATHER_CHECKS
from shared.zones import zones

AIR: Final = frozenset({Zone.AIR, Zone.AIR_BELOW})
THINNEST_MM: Final = 75
WIDEST_JOISTS_MM: Final = 1250
NO_ERROR_C: Final = 2.0
SLOWEST_REQUIRED_S: Final = 1800
"""A sensor slower than this says too little about the first days to be one that a release rests on."""


def zone_exists(table: Table) -> Iterator[Doubt]:
    """The site's time zone is one of the IANA's."""
    zone = table_of(table, "site").get("zone")
    if zone is not None and zone not in zones():
        near = get_close_matches(zone, sorted(zones()), n=1)
        hint = f'"{near[0]}" (nearest)' if near else 'such as "America/Halifax"'
        yield Doubt(("site", "zone"), shown(zone), f"an IANA time zone, {hint}")


def shifts_have_two_ends(table: Table) -> Iterator[Doubt]:
    """A shift that begins when it ends could mean no hour or every hour."""
    places = [(("site",), table_of(table, "site"), "shift"), (("laboratory",), table_of(table, "laboratory"), "open")]
    for path, entry, field in [*places, *((p, e, "shift") for p, e in tables(table, "recipient"))]:
        shift = entry.get(field)
        if shift is not None and len(set(shift.split("-"))) == 1:
            yield Doubt((*path, field), shown(shift), "two different hours of the day")


def ids_are_unique(table: Table) -> Iterator[Doubt]:
    """Mix, bay, recipient and sensor type ids each, and sensor ids over all bays, occur once."""
    groups = [list(tables(table, name)) for name in ("mix", "bay", "recipient", "sensor_type")]
    groups.append([s for path, bay in tables(table, "bay") for s in nested(bay, path, "sensors")])
    for group in groups:
        seen: set[str] = set()
        for path, entry in group:
            name = entry.get("id")
            if name in seen:
                yield Doubt((*path, "id"), f"{shown(name)} again", "an id that no other has")
            elif name is not None:
                seen.add(name)


def mixes_exist(table: Table) -> Iterator[Doubt]:
    """Every bay's mix is set up."""
    known = ids(table, "mix")
    for path, bay in tables(table, "bay"):
        if bay.get("mix") is not None and bay["mix"] not in known:
            yield Doubt((*path, "mix"), shown(bay["mix"]), f"the id of a [[mix]]: {listed(known)}")


def bays_named_exist(table: Table) -> Iterator[Doubt]:
    """Neighbours and bays below are bays of this site, and others than the bay itself."""
    known = ids(table, "bay")
    named = set(known)
    for path, bay in tables(table, "bay"):
        for field in ("neighbours", "below"):
            for index, name in enumerate(bay.get(field) or ()):
                if name is not None and (name not in named or name == bay.get("id")):
                    others = [k for k in known if k != bay.get("id")]
                    found = "the bay itself" if name == bay.get("id") else shown(name)
                    yield Doubt((*path, field, index), found, f"the id of another [[bay]]: {listed(others)}")


def bays_can_be_judged(table: Table) -> Iterator[Doubt]:
    """Every bay has a required sensor in its concrete: without one nothing would have to be alive."""
    for path, bay in tables(table, "bay"):
        sensors = list(nested(bay, path, "sensors"))
        unsure = len(sensors) < len(bay.get("sensors") or ()) or any(s.get("zone") is None for _, s in sensors)
        if sensors and not unsure and not any(_is_required(s) for _, s in sensors):
            concrete = listed([z for z in Zone if z not in AIR])
            yield Doubt((*path, "sensors"), "no required sensor in the concrete", f"at least one in: {concrete}")


def _is_required(sensor: Table) -> bool:
    return sensor.get("zone") not in AIR and in_force(sensor, SensorSettings, "required") is not False


def required_sensors_are_quick(table: Table) -> Iterator[Doubt]:
    """A required sensor in concrete measures at least every 30 minutes."""
    wanted = f"at most {SLOWEST_REQUIRED_S} for a required sensor in concrete"
    site_s = in_force(table_of(table, "site"), SiteSettings, "interval_s")
    inherited = False
    for path, bay in tables(table, "bay"):
        for where, sensor in nested(bay, path, "sensors"):
            if sensor.get("zone") is None or not _is_required(sensor):
                continue
            if (sensor.get("interval_s") or 0) > SLOWEST_REQUIRED_S:
                yield Doubt((*where, "interval_s"), shown(sensor["interval_s"]), wanted)
            inherited = inherited or "interval_s" not in sensor
    if inherited and (site_s or 0) > SLOWEST_REQUIRED_S:
        yield Doubt(("site", "interval_s"), shown(site_s), wanted)


def plan_is_adopted_whole(table: Table) -> Iterator[Doubt]:
    """Who adopted the plan and in which document are said together or not at all."""
    plan = table_of(table, "plan")
    yield from together(("plan",), plan, "adopted_by", "document")


def together(path: Path, entry: Table, one: str, other: str) -> Iterator[Doubt]:
    """Two fields are written together or not at all."""
    for there, absent in ((one, other), (other, one)):
        if there in entry and absent not in entry:
            yield Doubt((*path, absent), "nothing", f"a value, since {there} is written (or neither)")


def plan_fits_the_bays(table: Table) -> Iterator[Doubt]:
    """`common-practice` is for continuously reinforced slabs on close joists; else the engineer writes the plan."""
    if table_of(table, "plan").get("use") != "common-practice":
        return
    instead = "with the plan common-practice; outside it the engineer of record must write the plan"
    for path, bay in tables(table, "bay"):
        bounds: tuple[tuple[str, bool, str], ...] = (
            ("normal_weight", bay.get("normal_weight") is False, "true"),
            ("thickness_mm", (bay.get("thickness_mm") or THINNEST_MM) < THINNEST_MM, f"at least {THINNEST_MM}"),
            ("joist_spacing_mm", (bay.get("joist_spacing_mm") or 0) > WIDEST_JOISTS_MM, f"at most {WIDEST_JOISTS_MM}"),
            ("mesh_continuous", bay.get("mesh_continuous") is False, "true"),
            ("cantilever", bay.get("cantilever") is True, "false"),
        )
        for field, outside, wanted in bounds:
            if outside:
                yield Doubt((*path, field), shown(bay.get(field)), f"{wanted} {instead}")


_OF_A_URL: Final = ("url", "user", "password_file", "ca_file")
_OF_THE_EMBEDDED: Final = ("port", "listen", "loggers_file")


def broker_is_whole(table: Table) -> Iterator[Doubt]:
    """A broker of the site's own needs its url, one that others reach its users; what would be ignored is refused."""
    broker = table_of(table, "broker")
    kind = in_force(broker, BrokerSettings, "kind")
    if kind is None:
        return
    ignored = _OF_THE_EMBEDDED if kind == "url" else _OF_A_URL
    for field in ignored:
        if field in broker:
            wanted = "nothing: the port stands in url" if field == "port" else f'nothing while kind is "{kind}"'
            yield Doubt(("broker", field), shown(broker[field]), wanted)
    yield from _url_is_whole(broker) if kind == "url" else _embedded_is_whole(broker)


def _url_is_whole(broker: Table) -> Iterator[Doubt]:
    if "url" not in broker:
        yield Doubt(("broker", "url"), "nothing", 'mqtt://host:port or mqtts://host:port, since kind is "url"')
    yield from together(("broker",), broker, "user", "password_file")
    yield from together(("broker",), broker, "cert_file", "key_file")
    for field in ("ca_file", "cert_file"):
        if field in broker and not (broker.get("url") or "mqtts:").startswith("mqtts:"):
            yield Doubt(("broker", field), shown(broker[field]), "nothing, or an mqtts:// url")
    port = (broker.get("url") or "").rpartition("/")[2].partition(":")[2]
    if port and not 1 <= int(port) <= 65535:
        yield Doubt(("broker", "url"), shown(broker["url"]), "a port from 1 to 65535")


def _embedded_is_whole(broker: Table) -> Iterator[Doubt]:
    yield from together(("broker",), broker, "cert_file", "key_file")
    if (broker.get("listen") or "127.").startswith("127."):
        return
    for field in ("cert_file", "loggers_file"):
        if field not in broker:
            yield Doubt(
                ("broker", field), "nothing", f"a file, since others than this machine reach {broker['listen']}"
            )


def web_is_private(table: Table) -> Iterator[Doubt]:
    """Passwords and tokens of loggers never cross a network in the clear; certificate and key go together."""
    web = table_of(table, "web")
    yield from together(("web",), web, "cert_file", "key_file")
    if not (web.get("listen") or "127.").startswith("127.") and not {"cert_file", "key_file"} & web.keys():
        wanted = f"a certificate, since others than this machine reach {web['listen']}"
        yield Doubt(("web", "cert_file"), "nothing", wanted)


def somebody_can_be_told(table: Table) -> Iterator[Doubt]:
    """At least one recipient has a channel."""
    recipients = table.get("recipient")
    if recipients and all(r is not None and r.get("channels", []) == [] for r in recipients):
        yield Doubt(("recipient",), "nobody with a channel", "nobody can be told: at least one recipient with channels")


def people_on_duty_can_be_told(table: Table) -> Iterator[Doubt]:
    """Who is told when nobody answers is a recipient with a channel."""
    recipients = list(tables(table, "recipient"))
    told = [r["id"] for _, r in recipients if r.get("id") is not None and r.get("channels", []) != []]
    for index, who in enumerate(table_of(table, "site").get("duty") or ()):
        if who is not None and who not in told:
            yield Doubt(("site", "duty", index), shown(who), f"a recipient with channels: {listed(told)}")


def email_has_a_server(table: Table) -> Iterator[Doubt]:
    """Recipients told by e-mail need the server that sends it; its user and password go together."""
    channel_tables = table.get("channel", {})
    if channel_tables is None or "email" in channel_tables:
        server = table_of(channel_tables or {}, "email")
        yield from together(("channel", "email"), server, "user", "password_file")
        return
    for path, recipient in tables(table, "recipient"):
        for where, channel in nested(recipient, path, "channels"):
            if channel.get("kind") == "email":
                yield Doubt((*where, "kind"), shown("email"), "this kind only with a [channel.email] table")


def webhooks_are_allowed(table: Table) -> Iterator[Doubt]:
    """A webhook goes to a host that the site names: a slip in a URL must not send messages elsewhere."""
    hosts = [host for host in table_of(table, "channel").get("webhook_hosts") or () if host is not None]
    for path, recipient in tables(table, "recipient"):
        for where, channel in nested(recipient, path, "channels"):
            url = channel.get("url")
            if channel.get("kind") == "webhook" and url is not None and not is_allowed(url, hosts):
                # The URL may hold a token: it is not quoted.
                yield Doubt((*where, "url"), "another host", f"a host of [channel] webhook_hosts: {listed(hosts)}")


def sensor_types_exist(table: Table) -> Iterator[Doubt]:
    """Every sensor's type is set up, and no error value is a temperature at which concrete freezes."""
    known = ids(table, "sensor_type")
    for path, bay in tables(table, "bay"):
        for where, sensor in nested(bay, path, "sensors"):
            if sensor.get("type") is not None and sensor["type"] not in known:
                yield Doubt((*where, "type"), shown(sensor["type"]), f"the id of a [[sensor_type]]: {listed(known)}")
    for path, of_type in tables(table, "sensor_type"):
        for index, value in enumerate(of_type.get("error_values_c") or ()):
            if value is not None and abs(value) <= NO_ERROR_C:
                wanted = f"a number below -{NO_ERROR_C:g} or above {NO_ERROR_C:g}: what is between may be cold concrete"
                yield Doubt((*path, "error_values_c", index), shown(value), wanted)


SITE_CHECKS: Final[Sequence[Callable[[Table], Iterator[Doubt]]]] = (
    zone_exists,
    shifts_have_two_ends,
    ids_are_unique,
    mixes_exist,
    bays_named_exist,
    bays_can_be_judged,
    required_sensors_are_quick,
    plan_is_adopted_whole,
    plan_fits_the_bays,
    broker_is_whole,
    web_is_private,
    somebody_can_be_told,
    people_on_duty_can_be_told,
    email_has_a_server,
    webhooks_are_allowed,
    incoming_is_whole,
    sensor_types_exist,
    *REQUIREMENT_CHECKS,
    *PAYLOAD_CHECKS,
    *WEATHER_CHECKS,
)
