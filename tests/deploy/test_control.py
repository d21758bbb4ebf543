from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from deploy_support import START_MS, act

from deploy.control import NAME, ControlSocket, hand_in
from shared.errors import ActRefusedError, SlabError
from shared.models.acts import Act

STOP = act("stop", START_MS, pour="2-b1-p1", why="crack")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    # Deeper than a socket's path may be long.
    deep = tmp_path / ("a" * 60) / ("b" * 60)
    deep.mkdir(parents=True)
    return deep


@pytest.fixture
def applied(folder: Path) -> Iterator[list[Act]]:
    done: list[Act] = []

    def apply(one: Act) -> None:
        if one.who == "nobody":
            raise ActRefusedError("nobody of that name")
        if one.who == "bug":
            raise RuntimeError("a fault of ours")
        done.append(one)

    control = ControlSocket(folder, apply)
    control.start()
    try:
        yield done
    finally:
        control.close()


def test_an_act_handed_in_is_carried_out_as_it_is(folder: Path, applied: list[Act]) -> None:
    hand_in(folder, STOP)
    hand_in(folder, STOP)
    assert applied == [STOP, STOP]


@pytest.mark.parametrize(("who", "said"), [("nobody", "nobody of that name"), ("bug", "a fault of ours")])
def test_a_refusal_comes_back_with_its_reason_and_the_next_act_is_heard(
    folder: Path, applied: list[Act], who: str, said: str
) -> None:
    with pytest.raises(ActRefusedError, match=said):
        hand_in(folder, STOP.model_copy(update={"who": who}))
    hand_in(folder, STOP)
    assert applied == [STOP]


@pytest.mark.parametrize("line", [b"\n", b"{}\n", b"not json\n", b'{"kind":"dance"}\n', b"x" * 70_000 + b"\n"])
def test_what_is_no_act_is_refused(folder: Path, applied: list[Act], line: bytes, monkeypatch: object) -> None:
    assert isinstance(monkeypatch, pytest.MonkeyPatch)
    monkeypatch.chdir(folder)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.settimeout(10)
        connection.connect(NAME)
        connection.sendall(line)
        assert b"refused" in connection.recv(4096)
    assert applied == []


def test_only_the_services_user_can_open_it(folder: Path, applied: list[Act]) -> None:
    assert applied == []
    assert (folder / NAME).stat().st_mode & 0o077 == 0


def test_nobody_there_is_one_sentence(folder: Path) -> None:
    with pytest.raises(SlabError, match="does not answer"):
        hand_in(folder, STOP)


def test_a_closed_socket_is_gone(folder: Path) -> None:
    control = ControlSocket(folder, lambda _: None)
    control.start()
    control.close()
    assert not (folder / NAME).exists()
