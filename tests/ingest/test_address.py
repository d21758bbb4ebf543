"""How the service speaks TLS with a broker, and what it shows there."""

from __future__ import annotations

import ssl
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from authority_support import Authority, authority_in

from ingest.address import BrokerAddress


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return authority_in(tmp_path_factory.mktemp("tls"), "site")


def address(authority: Authority, *own: Path) -> BrokerAddress:
    """Return an address; `own`: certificate and key of the service."""
    plain = BrokerAddress.from_url("mqtts://127.0.0.1:8883", "site", "hunter2", str(authority.certificate))
    return replace(plain, **dict(zip(("cert_file", "key_file"), map(str, own), strict=False)))  # type: ignore[arg-type]


def test_only_an_address_of_tls_speaks_it_and_a_broker_of_our_own_in_its_own_way(authority: Authority) -> None:
    assert BrokerAddress.from_url("mqtt://broker.lan").tls_context() is None
    ours = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    assert replace(address(authority), context=ours).tls_context() is ours
    made = address(authority, *authority.signed("service")).tls_context()
    assert made is not None
    assert (made.verify_mode, made.check_hostname) == (ssl.CERT_REQUIRED, True)


def test_somebody_who_has_nothing_to_show_shows_neither_password_nor_certificate(authority: Authority) -> None:
    own = address(authority, *authority.signed("service"))
    assert own.nobody() == replace(address(authority), user=None, password=None)


@pytest.mark.parametrize("wrong", ["absent", "another's", "locked"])
def test_a_certificate_or_key_that_cannot_be_used_is_named_and_nobody_is_asked_for_a_word(
    authority: Authority, tmp_path: Path, wrong: str
) -> None:
    certificate, key = authority.signed("service")
    if wrong == "locked":
        asked: list[str | Path] = ["openssl", "pkey", "-in", key, "-aes256", "-passout", "pass:a-word"]
        subprocess.run([*asked, "-out", tmp_path / "locked"], check=True, capture_output=True, timeout=60)
        key = tmp_path / "locked"
    elif wrong == "another's":
        _, key = authority.signed("other")
    else:
        key = tmp_path / "absent"
    with pytest.raises(OSError, match=rf"service\.pem, .*{key.name} cannot be used"):
        address(authority, certificate, key).tls_context()
