"""Screens that read without a person: a key by a code on the screen of whoever gives it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from starlette.responses import Response

from cure.dashboard import door, visitors
from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.people_pages import base_of
from cure.dashboard.rendering import page, problem
from cure.dashboard.sign_in_pages import A_YEAR_MS, set_cookie
from cure.dashboard.welcome_pages import code_svg

LONGEST_NAME: Final = 60


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/devices"): lambda asked: _devices(parts, asked),
        ("POST", "/devices/add"): lambda asked: _add(parts, asked),
        ("POST", "/devices/end"): lambda asked: _end(parts, asked),
        ("GET", "/device/{token}"): lambda asked: _offer(parts, asked),
        ("POST", "/device/{token}"): lambda asked: _take(parts, asked),
    }


def _devices(parts: Parts, asked: Asked, *, link: str = "", added: str = "", wrong: str = "") -> Response:
    devices = [(d, asked.reader.whole_hour(d.since_ms)) for d in parts.people.devices()]
    code = code_svg(link) if link else ""
    status = 422 if wrong else 200
    return page(asked, "devices.html", status=status, devices=devices, link=link, code=code, added=added, wrong=wrong)


def _add(parts: Parts, asked: Asked) -> Response:
    name = asked.one("name")
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
        return _devices(parts, asked, wrong=asked.reader.say("wrong-device", longest=LONGEST_NAME))
    token = door.add_device(parts.people, name, str(asked.visitor.person), asked.now)
    return _devices(parts, asked, link=f"{base_of(asked)}/device/{token}", added=name)


def _end(parts: Parts, asked: Asked) -> Response:
    given, by = asked.one("no"), str(asked.visitor.person)
    if given.isdecimal() and len(given) < 10:
        parts.people.end_device(int(given), asked.now, door.logged(asked.now, by, "device ended", device=given))
    return see_other("/devices")


def _offer(parts: Parts, asked: Asked) -> Response:
    device = door.device_of(parts.people, asked.path["token"])
    return problem(asked, "link-used", status=410) if device is None else page(asked, "device.html", device=device)


def _take(parts: Parts, asked: Asked) -> Response:
    token = asked.path["token"]
    if door.device_of(parts.people, token) is None:
        return problem(asked, "link-used", status=410)
    return set_cookie(asked, see_other("/"), visitors.DEVICE, token, A_YEAR_MS)
