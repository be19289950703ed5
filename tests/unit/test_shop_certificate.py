"""The shop's certificate by the standard it follows: RFC 5280 as cryptography's own verifier and OpenSSL read it."""

import ipaddress
import ssl
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from witnessmark.cli.shop_certificate import CannotCertify, certificates, is_private, shop_names
from witnessmark.cli.shop_relay import forwarded

NOW = datetime(2026, 5, 12, 8, tzinfo=UTC)
NAMES = ("hangar", "hangar.local", "192.168.7.20", "fd00::20", "localhost", "127.0.0.1")


def server_of(made) -> x509.Certificate:
    return x509.load_pem_x509_certificates(made.chain.read_bytes())[0]


def verify(made, name: x509.DNSName | x509.IPAddress, at: datetime) -> None:
    root = x509.load_pem_x509_certificate(made.authority.read_bytes())
    verifier = PolicyBuilder().store(Store([root])).time(at).build_server_verifier(name)
    verifier.verify(server_of(made), [])


@pytest.mark.parametrize("name", NAMES)
def test_a_standard_verifier_takes_each_of_its_names(tmp_path: Path, name: str) -> None:
    made = certificates(tmp_path, NAMES, NOW)
    try:
        asked: x509.DNSName | x509.IPAddress = x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        asked = x509.DNSName(name)
    verify(made, asked, NOW + timedelta(days=300))
    verify(made, asked, NOW - timedelta(days=1))  # a phone a day behind
    with pytest.raises(VerificationError):
        verify(made, asked, NOW + timedelta(days=400))
    with pytest.raises(VerificationError):
        verify(made, x509.DNSName("elsewhere.local"), NOW)


def test_the_keys_are_the_owners_alone_and_openssl_takes_the_chain(tmp_path: Path) -> None:
    made = certificates(tmp_path / "certificate", NAMES, NOW)
    for key in (tmp_path / "certificate" / "authority.key", made.key):
        assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "certificate").stat().st_mode) == 0o700
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(made.chain, made.key)
    assert (server_of(made).not_valid_after_utc - server_of(made).not_valid_before_utc).days <= 398


def test_it_is_kept_then_renewed_before_it_ends_and_phones_keep_theirs(tmp_path: Path) -> None:
    first = certificates(tmp_path, NAMES, NOW)
    assert first.renewed
    same = certificates(tmp_path, NAMES, NOW + timedelta(days=300))
    assert not same.renewed
    later = certificates(tmp_path, NAMES, NOW + timedelta(days=370))
    assert later.renewed
    assert later.until > NOW + timedelta(days=700)
    assert later.fingerprint == first.fingerprint
    moved = certificates(tmp_path, ("192.168.7.99", *NAMES), NOW + timedelta(days=371))
    assert moved.renewed  # the router gave another address
    verify(moved, x509.IPAddress(ipaddress.ip_address("192.168.7.99")), NOW + timedelta(days=371))


def test_a_stolen_authority_opens_no_site_outside(tmp_path: Path) -> None:
    certificates(tmp_path, NAMES, NOW)
    root = x509.load_pem_x509_certificate((tmp_path / "authority.crt").read_bytes())
    said = root.extensions.get_extension_for_class(x509.NameConstraints)
    assert said.critical
    inside = said.value.permitted_subtrees or []
    networks = [each.value for each in inside if isinstance(each, x509.IPAddress)]
    assert networks
    assert not any(ipaddress.ip_address("93.184.216.34") in net for net in networks if net.version == 4)
    assert {each.value for each in inside if isinstance(each, x509.DNSName)} >= {"hangar", "local"}
    renamed = certificates(tmp_path, ("otherhost", *NAMES), NOW)
    assert "otherhost" not in renamed.names  # one name outside would spoil the others


@pytest.mark.parametrize("name", ["example.com", "8.8.8.8", "2001:4860:4860::8888", "shop.example.org"])
def test_a_public_name_is_refused(name: str) -> None:
    with pytest.raises(CannotCertify, match="reached from outside"):
        shop_names([name])


def test_private_is_what_the_standards_call_private() -> None:
    # RFC 1918, RFC 4193, RFC 3927
    for text in ("10.1.2.3", "172.31.0.1", "192.168.0.9", "169.254.3.3", "fd12::1", "fe80::1"):
        assert is_private(ipaddress.ip_address(text)), text
    for text in ("172.32.0.1", "11.0.0.1", "100.64.0.1", "2001:db8::1"):
        assert not is_private(ipaddress.ip_address(text)), text


def test_a_wrong_clock_is_named(tmp_path: Path) -> None:
    with pytest.raises(CannotCertify, match="clock says 1 January 1970"):
        certificates(tmp_path, NAMES, datetime(1970, 1, 1, tzinfo=UTC))
    certificates(tmp_path, NAMES, NOW)
    with pytest.raises(CannotCertify, match="before the shop's certificate was made"):
        certificates(tmp_path, NAMES, NOW - timedelta(days=200))
    with pytest.raises(CannotCertify, match="If the clock is right"):
        certificates(tmp_path, NAMES, NOW + timedelta(days=3640))


@pytest.mark.parametrize("file", ["authority.crt", "authority.key"])
def test_a_broken_authority_is_named_and_left_alone(tmp_path: Path, file: str) -> None:
    certificates(tmp_path, NAMES, NOW)
    (tmp_path / file).write_bytes(b"half")
    with pytest.raises(CannotCertify, match="cannot be read"):
        certificates(tmp_path, NAMES, NOW)
    assert (tmp_path / file).read_bytes() == b"half"


@pytest.mark.parametrize("file", ["server.pem", "server.key"])
def test_a_broken_server_certificate_is_made_anew(tmp_path: Path, file: str) -> None:
    before = certificates(tmp_path, NAMES, NOW)
    (tmp_path / file).write_bytes(b"half")
    made = certificates(tmp_path, NAMES, NOW)
    assert made.renewed
    assert made.fingerprint == before.fingerprint


def test_what_a_browser_claims_of_its_way_is_taken_out() -> None:
    head = b"GET / HTTP/1.1\r\nHost: a\r\nX-Forwarded-Proto: http\r\nx-forwarded-for: 9.9.9.9\r\nForwarded: for=x\r\nConnection: keep-alive\r\n\r\n"
    told = forwarded(head, "192.168.7.5")
    assert told is not None
    assert told.count(b"X-Forwarded-Proto") == 1
    assert b"9.9.9.9" not in told
    assert told.endswith(b"X-Forwarded-Proto: https\r\nX-Forwarded-For: 192.168.7.5\r\nConnection: close\r\n\r\n")


@pytest.mark.parametrize(
    "head",
    [
        b"\r\n\r\n",
        b"GET /\r\n\r\n",
        b"GET / HTTP/1.1\r\nA: b\r\n X-Forwarded-Proto: https\r\n\r\n",
        b"GET / HTTP/1.1\r\nA: b\nX-Forwarded-Proto: https\r\n\r\n",
        b"GET / HTTP/1.1\r\nno colon\r\n\r\n",
    ],
)
def test_a_head_that_could_carry_more_is_refused(head: bytes) -> None:
    assert forwarded(head, "x") is None
