"""Random traces of what the world and people do, played for real and in the model at once."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Final

from interleavings_real import BOTH, NOW_MS, Real, real_setup
from store_support import opened_book

from shared.models.messages import MessageKind


def played(folder: Path, seed: int, steps: int) -> Real:
    """Play a random trace for real and in the model; an assertion where they part."""
    with opened_book(folder, real_setup(), NOW_MS, pours=0) as book:
        real = Real(book, Random(seed))
        real.follow("set up", ["gate: round"])
        for _ in range(steps):
            _one(real)
        return real


def _one(real: Real) -> None:
    luck = real.rng.random()
    if luck < 0.65:
        _deed(real)
        return
    during = (lambda: _deed(real)) if real.rng.random() < 0.3 else None
    dies = real.rng.choice(["transport: before", "transport: after"]) if real.rng.random() < 0.2 else ""
    real.turn(during, dies=dies, script=real.rng.choices(["accept", "fail", "lost", "silence"], [5, 2, 1, 1], k=4))


_DEEDS: Final = {"flips": 2, "fades": 1, "round": 5, "sign": 12, "begin": 2, "finish": 1, "confirm": 3, "reopen": 3}
"""What people and the world do, and how often."""


def _deed(real: Real) -> None:
    """One thing that the world or a person does, done in both, when the real code accepts it."""
    choice = real.rng.choices(list(_DEEDS), list(_DEEDS.values()))[0]
    # Where nothing can be released for long, little happens.
    if real.rng.random() < 0.4 and not (real.readings.good and real.readings.fresh):
        choice = "flips" if not real.readings.good else "fades"
    if choice == "flips":
        real.readings.good = not real.readings.good
        real.step("world: evidence flips")
    elif choice == "fades":
        real.readings.fresh = not real.readings.fresh
        real.step("world: a sensor fades")
    elif choice == "round":
        real.round()
    elif choice == "sign":
        _sign(real)
    elif choice == "confirm":
        _confirm(real)
    else:
        _gate_act(real, choice)


def _sign(real: Real) -> None:
    who = real.rng.choice(["super", "qc"])
    these = real.rng.choice([["strip"], ["walk"], ["strip", "walk"]])
    if real.act("sign", who, operations=these):
        # Who is who is not told apart in the model: either of the two names may be the one.
        real.step(*(f"person: {n} signs {'+'.join(these)}" for n in "ab"))


def _confirm(real: Real) -> None:
    for m in real.book.board.messages():
        insistent = m.kind in {MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF} and m.subject in BOTH
        if insistent and real.confirm(m.no):
            real.step(f"person: confirms {m.kind} of {m.subject}")
            return


def _gate_act(real: Real, choice: str) -> None:
    kind, event = {
        "begin": ("under_way", "begun"), "finish": ("done", "finished"), "reopen": ("reopen", "reopened by a person")
    }[choice]  # fmt: skip
    more = {"cause": "looked at it"} if choice == "reopen" else {}
    operation = "strip" if choice == "begin" else real.rng.choice(["strip", "walk"])
    if choice == "finish" and operation == "walk":
        return
    if real.act(kind, "qc", operation=operation, **more):
        real.step(f"person: {event} {operation}")
