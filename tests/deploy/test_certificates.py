from __future__ import annotations

import shutil
import ssl
import stat
from pathlib import Path

import pytest

from deploy import certificates
from deploy.certificates import AUTHORITY, AUTHORITY_KEY, CERTIFICATE, KEY, host, hosts_of, issue, make_authority
from shared.errors import NewSiteError

needs_openssl = pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not installed")


@needs_openssl
def test_a_certificate_is_for_its_hosts_and_trusted_by_its_authority_alone(tmp_path: Path) -> None:
    make_authority(tmp_path, "slabhour yard")
    issue(tmp_path, ["slab.site.example", "10.0.0.7", "fe80::1"])
    assert hosts_of(tmp_path) == ["slab.site.example", "10.0.0.7", "fe80::1"]
    for name in (AUTHORITY_KEY, KEY):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o400
    found = ssl._ssl._test_decode_cert(str(tmp_path / CERTIFICATE))  # type: ignore[attr-defined]
    names = {name for kind, name in found["subjectAltName"] if kind == "DNS"}
    assert names == {"slab.site.example"}
    ssl.create_default_context(cafile=tmp_path / AUTHORITY).load_cert_chain(tmp_path / CERTIFICATE, tmp_path / KEY)
    old = (tmp_path / CERTIFICATE).read_bytes(), (tmp_path / KEY).read_bytes()
    issue(tmp_path, hosts_of(tmp_path))
    assert old != ((tmp_path / CERTIFICATE).read_bytes(), (tmp_path / KEY).read_bytes())
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == []


@needs_openssl
def test_without_the_authoritys_key_nothing_is_signed_and_the_old_certificate_stays(tmp_path: Path) -> None:
    make_authority(tmp_path, "slabhour yard")
    issue(tmp_path, ["slab.site.example"])
    old = (tmp_path / CERTIFICATE).read_bytes()
    (tmp_path / AUTHORITY_KEY).unlink()
    with pytest.raises(NewSiteError, match="only where the authority's key is"):
        issue(tmp_path, ["slab.site.example"])
    assert (tmp_path / CERTIFICATE).read_bytes() == old


@pytest.mark.parametrize("name", ["", "a b", "a,DNS:b", "a\nb", "-a", "a.", "a_b", "x" * 254])
def test_what_is_no_host_is_refused_before_it_reaches_openssl(name: str) -> None:
    with pytest.raises(NewSiteError, match="no name or address"):
        host(name)


def test_a_machine_without_openssl_is_told_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(NewSiteError, match="apt-get install openssl"):
        make_authority(tmp_path, "x")


@needs_openssl
def test_what_openssl_says_is_told(tmp_path: Path) -> None:
    (tmp_path / CERTIFICATE).write_text("no certificate", encoding="utf-8")
    with pytest.raises(NewSiteError, match="openssl x509 failed"):
        certificates.hosts_of(tmp_path)
