from __future__ import annotations

import socket
import ssl
import threading
import time
from pathlib import Path

import anyio.to_thread
import pytest
from deploy_support import START_MS, write_site
from ingest_support import until
from mqtt_support import free_port
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send
from tls_support import NAME, certificate_in
from web_support import answered, dial, get, serving

from deploy import web_server
from deploy.serve import running
from deploy.web import application
from deploy.web_server import LOOPBACK, WebAddress, WebServer, web_address
from shared.clock import SimulatedClock
from shared.errors import SetupError, WebError
from shared.sitefile import load
from shared.web_headers import HEADERS


async def echo(scope: Scope, receive: Receive, send: Send) -> None:
    try:
        body = await Request(scope, receive).body()
    except ClientDisconnect:
        return
    await PlainTextResponse(f"{scope['scheme']} {scope['client'][0]} {len(body)}")(scope, receive, send)


def test_it_answers_from_its_start_to_its_end_and_gives_the_port_back() -> None:
    with serving(application(())) as server:
        assert server.address.port > 0
        assert get(server).startswith(b"HTTP/1.1 200 OK")
        assert server.stale_s() < 5.0
        port = server.address.port
    assert server.stale_s() == float("inf")
    with serving(application(()), WebAddress(port=port)) as again:
        assert again.address.url == f"http://127.0.0.1:{port}"
        assert get(again).endswith(b"alive\n")


def test_a_taken_port_is_one_error_that_says_what_to_do() -> None:
    with socket.create_server((LOOPBACK, 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(WebError, match=rf"port {port} at 127\.0\.0\.1 is not free .*; set another in \[web\]"):
            WebServer(WebAddress(port=port), application(()))


def test_one_that_was_never_started_is_closed_without_a_word() -> None:
    server = WebServer(WebAddress(), application(()))
    server.close()
    with socket.create_server((LOOPBACK, server.address.port)):
        pass


def test_a_loop_that_stands_still_is_seen() -> None:
    stand, stood = threading.Event(), threading.Event()

    async def stands(scope: Scope, receive: Receive, send: Send) -> None:
        stood.set()
        stand.wait(20.0)
        await PlainTextResponse("at last")(scope, receive, send)

    with serving(stands) as server, dial(server) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        assert stood.wait(60)
        until(lambda: server.stale_s() > 0.5)
        stand.set()
        assert answered(connection).endswith(b"at last")
        until(lambda: server.stale_s() < 0.5)


def test_what_is_no_request_is_refused_with_the_headers_of_every_answer() -> None:
    with serving(application(())) as server, dial(server) as connection:
        connection.sendall(b"\x16\x03\x01 no request\r\n\r\n")
        said = answered(connection).decode()
    assert said.startswith("HTTP/1.1 400 ")
    assert all(f"{name}: {value}" in said for name, value in HEADERS.items())


@pytest.mark.parametrize(
    "begun",
    [
        b"",
        b"POST / HTTP/1.1\r\nHo",
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 900\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\n\r\nPOST / HTTP/1.1\r\nHost: x\r\nContent-Length: 900\r\n\r\n",
    ],
)
def test_a_request_that_does_not_arrive_whole_in_its_time_is_hung_up_on_however_it_drips(
    begun: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(web_server, "ARRIVES_WITHIN_S", 0.5)
    with serving(echo) as server, dial(server) as connection:
        began = time.monotonic()
        connection.sendall(begun)
        hung_up = threading.Event()

        def drip() -> None:
            while begun and not hung_up.wait(0.05):
                try:
                    connection.sendall(b"a")
                except OSError:
                    return

        dripping = threading.Thread(target=drip)
        dripping.start()
        answered(connection)
        hung_up.set()
        dripping.join()
        assert 0.4 < time.monotonic() - began < 60.0


def test_a_request_that_has_arrived_is_answered_however_long_that_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(web_server, "ARRIVES_WITHIN_S", 0.2)

    def slowly(scope: Scope) -> None:
        threading.Event().wait(1.0)

    async def slow(scope: Scope, receive: Receive, send: Send) -> None:
        await anyio.to_thread.run_sync(slowly, scope)
        await PlainTextResponse("done")(scope, receive, send)

    with serving(slow) as server:
        assert get(server).endswith(b"done")


def test_who_is_one_too_many_is_hung_up_on_and_the_others_are_served(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(web_server, "MOST_CONNECTIONS", 3)
    with serving(application(())) as server:
        inside = [dial(server) for _ in range(3)]
        try:
            # They are taken in the order in which they came.
            inside[-1].sendall(b"GET /alive HTTP/1.1\r\nHost: x\r\n\r\n")
            assert inside[-1].recv(15) == b"HTTP/1.1 200 OK"
            with dial(server) as outside:
                assert answered(outside) == b""
            inside[0].sendall(b"GET /alive HTTP/1.1\r\nHost: x\r\n\r\n")
            assert inside[0].recv(15) == b"HTTP/1.1 200 OK"
        finally:
            for one in inside:
                one.close()
        until(lambda: get(server).startswith(b"HTTP/1.1 200"))


def test_those_that_wait_for_an_answer_have_it_before_the_end() -> None:
    inside, go = threading.Event(), threading.Event()

    def wait() -> None:
        inside.set()
        go.wait(3.0)

    async def slow(scope: Scope, receive: Receive, send: Send) -> None:
        await anyio.to_thread.run_sync(wait)
        await PlainTextResponse("still answered")(scope, receive, send)

    with serving(slow) as server:
        connection = dial(server)
        connection.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        assert inside.wait(60)
        closing_it = threading.Thread(target=server.close)
        closing_it.start()
        go.set()
        with connection:
            assert b"still answered" in answered(connection)
        closing_it.join(15.0)
    assert not closing_it.is_alive()


def test_by_its_certificate_it_speaks_tls_and_nothing_else(tmp_path: Path) -> None:
    cert, key = certificate_in(tmp_path)
    with serving(echo, WebAddress(LOOPBACK, 0, cert, key)) as server:
        assert server.address.url.startswith("https://127.0.0.1:")
        context = ssl.create_default_context(cafile=str(cert))
        with context.wrap_socket(dial(server), server_hostname=NAME) as connection:
            connection.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            assert answered(connection).endswith(b"https 127.0.0.1 0")
        assert b"200" not in get(server)


def test_a_key_that_does_not_fit_its_certificate_is_one_error(tmp_path: Path) -> None:
    (cert, _), (_, other) = certificate_in(tmp_path), certificate_in(tmp_path, "other")
    with pytest.raises(WebError, match=r"\[web\] cert_file .*cert\.pem and key_file .*other-key\.pem cannot be used"):
        WebServer(WebAddress(LOOPBACK, 0, cert, key_file=other), application(()))


@pytest.mark.parametrize(("host", "believed"), [(LOOPBACK, "https 10.0.0.9 0"), ("0.0.0.0", "http 127.0.0.1 0")])  # noqa: S104
def test_a_server_in_front_is_believed_only_where_no_other_can_be_there(host: str, believed: str) -> None:
    with serving(echo, WebAddress(host)) as server, dial(server) as connection:
        forwarded = "X-Forwarded-For: 10.0.0.9\r\nX-Forwarded-Proto: https\r\n"
        connection.sendall(f"GET / HTTP/1.1\r\nHost: x\r\n{forwarded}Connection: close\r\n\r\n".encode())
        assert answered(connection).decode().endswith(believed)


def test_the_site_file_says_where_and_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    plain = load(write_site(tmp_path))
    assert web_address(plain) == WebAddress(LOOPBACK, 0)
    web = '[web]\nlisten = "0.0.0.0"\nport = 8443\ncert_file = "c.pem"\nkey_file = "k.pem"\n'
    named = load(write_site(tmp_path, **{"[web]\nport = 0\n": web}))
    (tmp_path / "c.pem").touch()
    with pytest.raises(SetupError, match=r"web\.key_file: found .*k\.pem: no such file"):
        web_address(named)
    (tmp_path / "k.pem").touch()
    assert web_address(named) == WebAddress("0.0.0.0", 8443, tmp_path / "c.pem", tmp_path / "k.pem")  # noqa: S104


def test_the_service_serves_and_says_where(tmp_path: Path) -> None:
    setup = load(write_site(tmp_path, **{"port = 1883": f"port = {free_port()}"}))
    with running(setup, SimulatedClock(START_MS)) as parts:
        assert get(parts.web).endswith(b"alive\n")
        assert parts.web.stale_s() < 60.0
        port = parts.web.address.port
    with socket.socket() as probe:
        assert probe.connect_ex((LOOPBACK, port)) != 0


def test_a_service_whose_web_port_is_taken_ends_with_that_one_error_and_leaves_nothing_behind(tmp_path: Path) -> None:
    with socket.create_server((LOOPBACK, 0)) as other:
        web = f"[web]\nport = {other.getsockname()[1]}\n"
        taken = write_site(tmp_path, **{"port = 1883": f"port = {free_port()}", "[web]\nport = 0\n": web})
        with (
            pytest.raises(WebError, match="is not free for the web pages"),
            running(load(taken), SimulatedClock(START_MS)),
        ):
            pass
    assert not (tmp_path / "var").exists()
