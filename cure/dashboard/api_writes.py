"""What other software may do: the acts of the pages, each with a key under which it is carried out once."""

import json
from collections.abc import Callable
from copy import copy
from hashlib import sha256
from typing import Annotated, Any, Final

from fastapi import Header, Response
from fastapi.responses import JSONResponse
from pydantic import create_model

from cure.dashboard.api_door import ApiParts, Caller, CallerIn, ProblemError, problem
from cure.dashboard.api_models import ToSign
from cure.dashboard.rules import API
from cure.dashboard.signing import Signer, can_be_signed, item_of, not_proved_ms
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import Json, Operation, Record
from shared.ports import BoardRow

# Without `from __future__ import annotations`: FastAPI reads the types that are made here, per route.
GIVEN_OUT: Final = frozenset({"at", "who", "scripted", "kind", "second_person", "photo", "answered"})
"""Fields that the caller does not say: hour and person are the token's, nobody speaks for a second person without
proving to be there, and a picture comes as its bytes."""
ACTS: Final[dict[str, type[acts.ActBase]]] = {
    "pour-start": acts.PourStart,
    "take-back": acts.TakeBack,
    "pour-end": acts.PourEnd,
    "second-check": acts.SecondCheck,
    "under-way": acts.UnderWay,
    "done": acts.Done,
    "cover": acts.Cover,
    "heat": acts.Heat,
    "form-set": acts.MoveSet,
    "want": acts.Want,
    "confirm": acts.Confirm,
    "hand-reading": acts.HandReading,
    "test-result": acts.StrengthTest,
    "place-sensor": acts.PlaceSensor,
    "remove-sensor": acts.RemoveSensor,
    "screen-again": acts.ScreenAgain,
    "stop": acts.Stop,
}
"""What can be done by a request, by its path. What is signed or bound to what was seen has routes of its own."""
KEYS: Final = "the same key is carried out once, within a week; the same request again gets the same answer"
Key = Annotated[str, Header(alias="Idempotency-Key", pattern=r"^[\x21-\x7e]{1,128}$", description=KEYS)]
REPLAYED: Final = {"Idempotent-Replayed": "true"}


def given(act: type[acts.ActBase]) -> type[Record]:
    """Return the model of what a caller says of an act."""
    fields: dict[str, Any] = {
        name: (field.annotation, copy(field)) for name, field in act.model_fields.items() if name not in GIVEN_OUT
    }
    return create_model(f"{act.__name__}Given", __base__=Record, __doc__=act.__doc__, **fields)


def once(api: ApiParts, caller: Caller, key: str, asked: Json, carry_out: Callable[[], Json]) -> Response:
    """Carry a request out, unless its key was used before: then say what became of it, or that nobody knows."""
    number, digest = caller.token.no, sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()
    kept = api.tokens.begin(number, key, digest, caller.now)
    if kept is not None and kept.asked != digest:
        return problem(422, "this Idempotency-Key was used for another request: take a new one")
    if kept is not None and kept.status is None:
        return problem(409, "a request with this key has begun and its end is not known: read what stands, then decide")
    if kept is not None:
        return _answer(int(kept.status or 0), kept.body, REPLAYED)
    status: int = 200
    body: Json
    try:
        body = {"done": carry_out()}
    except ProblemError:
        # Nothing has begun: the same key may try again.
        api.tokens.drop(number, key)
        raise
    except ActRefusedError as error:
        status, body = 409, str(error)
    api.tokens.settle(number, key, status, body)
    return _answer(status, body, {})


def _answer(status: int, body: Json, headers: dict[str, str]) -> Response:
    return JSONResponse(body, status, headers) if status == 200 else problem(status, str(body), headers)


def act_route(api: ApiParts, name: str, kind: type[acts.ActBase]) -> Callable[..., Any]:
    """Return what answers the route of one kind of act."""
    model: Any = given(kind)

    def act(caller: CallerIn, said: model, key: Key) -> Response:
        def carry_out() -> Json:
            fields = said.model_dump(mode="python", exclude_unset=True)
            made: Any = kind(at=acts.instant(caller.now), who=caller.person, **fields)
            api.parts.apply(made)
            return acts.act_to(made)

        return once(api, caller, key, {"act": name, **said.model_dump(mode="json")}, carry_out)

    act.__doc__ = kind.__doc__
    act.__name__ = f"act_{name.replace('-', '_')}"
    return act


def signatures(api: ApiParts) -> Callable[..., Any]:
    """Return what answers the route for signing."""

    def sign(caller: CallerIn, said: ToSign, key: Key) -> Response:
        """Sign met requirements of a pour, bound to the evidence as it was read; takes password and a new code."""

        def carry_out() -> Json:
            _check(api, caller, said)
            act = acts.Sign(
                at=acts.instant(caller.now), who=caller.person, pour=said.pour, operations=tuple(said.operations)
            )
            api.parts.apply(act)
            return acts.act_to(act)

        asked = said.model_dump(mode="json", exclude={"password", "code"})
        return once(api, caller, key, {"act": "sign", **asked}, carry_out)

    return sign


def _check(api: ApiParts, caller: Caller, said: ToSign) -> None:
    """Raise `ProblemError` unless the person may sign this, has seen this evidence, and proves to be who they are."""
    who, doubts = Signer(caller.person, caller.role, caller.address), api.parts.board.doubts()
    row = next((one for one in api.parts.board.board() if one.pour.id == said.pour), None)
    if not (said.read and said.nothing_else):
        raise ProblemError(422, "read, and nothing_else: both must be said")
    if doubts or row is None or not _waits(row, said, caller, who):
        raise ProblemError(409, "what was seen is not what stands now, or it does not wait for this person: read again")
    # Last, so that no code is used up for nothing.
    prove(api, caller, said.password, said.code)


def prove(api: ApiParts, caller: Caller, password: str, code: str) -> None:
    """Raise `ProblemError` unless the person proves by password and a new code to be there; the code is used up."""
    who = Signer(caller.person, caller.role, caller.address)
    wait_ms = not_proved_ms(api.parts, caller.site, who, password, code, caller.now)
    if wait_ms:
        raise ProblemError(429, "too many attempts", {"Retry-After": str(-(-wait_ms // 1000))})
    if wait_ms is not None:
        raise ProblemError(403, "password or code are not right, or the code was used before")


def _waits(row: BoardRow, said: ToSign, caller: Caller, who: Signer) -> bool:
    operations = [Operation(name) for name in said.operations]
    if any(op not in row.gates for op in operations) or len(operations) != len(said.items):
        return False
    seen = [item_of(row.gates[op]) for op in operations]
    return seen == said.items and all(can_be_signed(row, op, caller.site, who, caller.now) for op in operations)


def writes(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the routes that do something."""
    of_acts = {("POST", f"{API}/acts/{name}"): act_route(api, name, kind) for name, kind in ACTS.items()}
    return {**of_acts, ("POST", f"{API}/signatures"): signatures(api)}
