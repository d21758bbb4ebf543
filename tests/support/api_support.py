"""The interface for other software over a wired service: a pour whose strip and walk are met, a token of each kind."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import httpx
import pyotp
from beside_support import in_process
from deploy_support import START_MS, act, history, little_service, poured
from pages_support import HASHED, PASSWORD, SECRET
from starlette.types import ASGIApp
from web_support import ask

from cure.dashboard import door
from cure.dashboard.api import api
from cure.dashboard.api_door import ApiParts
from cure.dashboard.app import not_found, pages
from cure.dashboard.pace import Pace
from deploy.api_parts import api_parts
from deploy.page_parts import page_parts
from deploy.web import application
from deploy.wiring import Service
from shared.clock import SimulatedClock
from shared.models.accounts import Account
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP
from shared.models.people import Role

PEOPLE: Final = {role: str(role) for role in Role} | {Role.SUPERINTENDENT: "super", Role.QC: "qc-one"}
"""Somebody of each role."""
MORE: Final = "".join(
    f'[[recipient]]\nid = "{name}"\nrole = "{role}"\n' for role, name in PEOPLE.items() if name == role
)
V1: Final = "/api/v1"


@dataclass
class Office:
    """Other software, and the service that it asks."""

    service: Service
    clock: SimulatedClock
    app: ASGIApp
    parts: ApiParts
    tokens: dict[tuple[str, str], str] = field(default_factory=dict)
    keys: Iterator[int] = field(default_factory=itertools.count)

    def token(self, *scopes: str, person: str = "super", **said: Any) -> str:
        """Return a token of these scopes, made when it is first wanted."""
        key = (person, " ".join(scopes))
        if key not in self.tokens or said:
            token = door.new_token()
            made = {"name": "office", "person": person, "scopes": scopes, "digest": door.digest_of(token), **said}
            self.service.apply(act("make_token", self.clock.now(), who="qc-one", **made))
            self.tokens[key] = token
        return self.tokens[key]

    def ask(self, method: str, path: str, token: str | None, **request: Any) -> httpx.Response:
        """Ask with a token."""
        headers = dict(request.pop("headers", {}))
        if token is not None:
            headers["Authorization"] = f"Bearer {token}"
        return ask(self.app, method, path, headers=headers, **request)

    def read(self, path: str, **params: Any) -> Any:
        """Return what is read there."""
        answer = self.ask("GET", f"{V1}/{path}", self.token("read"), params=params)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def do(self, path: str, body: Any, *, token: str | None = None, key: str | None = None) -> httpx.Response:
        """Do something, with a new key unless one is given."""
        headers = {"Idempotency-Key": f"key-{next(self.keys)}" if key is None else key}
        found = self.token("act", "sign") if token is None else token
        return self.ask("POST", f"{V1}/{path}", found, json=body, headers=headers)

    def gate(self, operation: str) -> Any:
        """Return a gate of the bay."""
        return next(g for g in self.read("gates")["items"] if g["operation"] == operation)

    def to_sign(self, *operations: str) -> dict[str, Any]:
        """Return what signs them, with a code that was not used before."""
        proof = self.proof()
        items = [self.gate(operation)["item"] for operation in operations]
        said = {"pour": self.gate(STRIP)["pour"], "operations": operations, "items": items, "read": True}
        return {**said, "nothing_else": True, **proof}

    def proof(self) -> dict[str, Any]:
        """Return password and a code that was not used before; they are the same for everybody with an account."""
        self.clock.set(self.clock.now() + MINUTE_MS)
        return {"password": PASSWORD, "code": pyotp.TOTP(SECRET).at(self.clock.now() // 1000)}

    def join(self, person: str) -> None:
        """Let somebody of the site file have an account, with a second factor."""
        invited = door.invite(self.service.book.people, person, None, "admin", self.clock.now())
        account = Account(person, None, HASHED, SECRET, self.clock.now())
        assert door.join(self.service.book.people, invited, account)


def wired(service: Service) -> tuple[ASGIApp, ApiParts]:
    """Return the whole application of a service, as it is served."""
    parts = page_parts(service, service.apply, demo=False)
    # A fit without a process of its own: the same code.
    parts = replace(parts, beside=replace(parts.beside, judge=in_process))
    # Tests ask as fast as they can, at one hour.
    of_api = replace(api_parts(service, parts, {"tick": lambda: 0.5}), pace=Pace(100_000))
    return application([api(of_api), pages(parts)], not_found(parts)), of_api


@contextmanager
def office(folder: Path) -> Iterator[Office]:
    """Lend the interface over a service in which strip and walk of a pour are met."""
    with little_service(folder, START_MS, **{"[channel.email]": f"{MORE}[channel.email]"}) as (service, clock):
        clock.set(START_MS + HOUR_MS)
        for done in poured():
            service.apply(done)
        service.intake.take_rows(history(28))
        for minutes in (0, 31):
            clock.set(START_MS + 28 * HOUR_MS + minutes * MINUTE_MS)
            service.tick()
        found = Office(service, clock, *wired(service))
        found.join("super")
        yield found
