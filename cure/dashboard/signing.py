"""What a signature takes, on a page and through the interface for other software alike."""

from __future__ import annotations

from dataclasses import dataclass

from cure.dashboard import door
from cure.dashboard.asked import Parts
from cure.dashboard.board import is_late
from cure.dashboard.signs import stripping_near
from shared.models.accounts import role_of
from shared.models.base import STRIP, Ms, Operation
from shared.models.decisions import Gate, GateState
from shared.models.people import Role
from shared.models.requirement import ANSWERS, SIGNERS
from shared.models.setup import SiteFile
from shared.ports import BoardRow


@dataclass(frozen=True, slots=True)
class Signer:
    """Who wants to sign, and from where."""

    person: str
    role: Role | None
    address: str


def item_of(gate: Gate) -> str:
    """Return what binds a signature to what was seen: the pour, the operation, its epoch and its evidence."""
    return f"{gate.pour}|{gate.operation}|{gate.epoch}|{(gate.snapshot or '')[:24]}"


def can_be_signed(row: BoardRow, operation: Operation, site: SiteFile, who: Signer, now: Ms) -> bool:
    """Return whether a requirement is met and waits for this person; nothing does while the service is in doubt."""
    gate = row.gates[operation]
    if gate.state is not GateState.MET or is_late(row, site, now):
        return False
    if operation != STRIP and stripping_near(row):
        return False
    if not any(v.operation == operation and v.met for v in row.state.verdicts):
        return False
    return who.role in SIGNERS.get(operation, ANSWERS) and who.person not in gate.signers


def not_proved_ms(parts: Parts, site: SiteFile, who: Signer, password: str, code: str, now: Ms) -> int | None:
    """Return None when it is proved that the person signs, by password and a new code; the code is used up then.

    Else how long to wait before another attempt; 0: password or code are wrong. [ms]
    """
    attempts = parts.attempts
    if (wait_ms := attempts.begin(who.person, who.address, now)) > 0:
        return wait_ms
    account = parts.people.account(who.person)
    proved = (
        account is not None
        and role_of(site, account) is who.role
        and door.is_password(account, password[: door.LONGEST])
        and door.use_code(parts.people, account, code, now)
    )
    if proved:
        attempts.succeeded(who.person, who.address, now)
        return None
    return 0
