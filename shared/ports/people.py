"""What the pages need to know who comes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from shared.models.accounts import Account, DeviceKey, Invitation, Session
from shared.models.base import Ms
from shared.models.decisions import LogEntry


class PeopleBook(Protocol):
    """Accounts and what lets people in. Whatever changes who may come in is written to the log with it."""

    def accounts(self) -> Sequence[Account]:
        """Return every account, ended ones too, by name."""
        ...

    def account(self, person: str) -> Account | None:
        """Return the account of that name."""
        ...

    def invite(self, invitation: Invitation, log: LogEntry) -> None:
        """Keep an invitation in place of earlier ones of the same person."""
        ...

    def invitation(self, digest: str, now: Ms) -> Invitation | None:
        """Return an invitation that can still be used."""
        ...

    def join(self, digest: str, account: Account, log: LogEntry) -> bool:
        """Use an invitation: the account is made, or made anew without its sessions. False, and nothing changes, when
        the invitation was used or has run out.
        """
        ...

    def end_account(self, person: str, at_ms: Ms, log: LogEntry) -> bool:
        """End an account with its sessions and invitations. False when there is none that goes on."""
        ...

    def use_code(self, person: str, step: int) -> bool:
        """Note that the code of a step is used. False when that one, or a later one, was used before."""
        ...

    def begin_session(self, session: Session) -> None:
        """Keep a session; those that have run out are forgotten."""
        ...

    def session(self, digest: str, now: Ms) -> Session | None:
        """Return a session that has not run out."""
        ...

    def end_session(self, digest: str) -> None:
        """Forget a session."""
        ...

    def add_device(self, device: DeviceKey, log: LogEntry) -> int:
        """Keep a device's key; return its number."""
        ...

    def devices(self) -> Sequence[DeviceKey]:
        """Return the keys that are in force, by number."""
        ...

    def end_device(self, no: int, at_ms: Ms, log: LogEntry) -> bool:
        """End a device's key. False when there is none in force."""
        ...
