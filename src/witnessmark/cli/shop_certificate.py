"""The shop's own certificate authority and the certificate its phones trust: made here, kept in the data folder.

A browser trusts a page on the shop's network only under a certificate whose issuer was put on the phone by hand. The
authority signs this machine's own names and private addresses and nothing else: it says so in itself (name constraints,
RFC 5280, 4.2.1.10), so that a stolen key opens no other site. Server certificates last at most 398 days, which is the most
that browsers take (CA/Browser Forum, Baseline Requirements 6.3.2, as read in 2024).
"""

import ipaddress
import os
import secrets
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

    Address = ipaddress.IPv4Address | ipaddress.IPv6Address

AUTHORITY_LASTS, SERVER_LASTS = timedelta(days=3650), timedelta(days=397)
RENEW_BEFORE = timedelta(days=30)
# A phone whose clock is a little behind must not meet a certificate from its future.
BACKDATED = timedelta(days=2)
# Before this program was written no clock can be right.
EARLIEST = datetime(2025, 1, 1, tzinfo=UTC)
LOCAL_ENDINGS = (".local", ".lan", ".home.arpa", ".internal")
_PRIVATE = (
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "127.0.0.0/8",
    "fc00::/7",
    "fe80::/10",
    "::1/128",
)


class CannotCertify(Exception):
    """No certificate was made; the message says why and what to do."""


@dataclass(frozen=True)
class Certificates:
    """Where the authority's certificate and the server's chain and key lie, and what a phone shows to compare."""

    authority: Path
    chain: Path
    key: Path
    fingerprint: str
    names: tuple[str, ...]
    until: datetime
    renewed: bool


def private_addresses() -> "list[Address]":
    """Give this machine's own addresses on private networks, those that others reach first.

    Nothing is sent: a datagram socket that is connected only chooses the interface that would be used.
    """
    found: list[Address] = []
    for family, far in ((socket.AF_INET, "10.255.255.255"), (socket.AF_INET6, "fd00::1")):
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as asked:
                asked.connect((far, 9))
                found.append(ipaddress.ip_address(asked.getsockname()[0].split("%")[0]))
        except OSError:
            continue
    try:
        known = socket.getaddrinfo(socket.gethostname(), None)
    except OSError:
        known = []
    found += [ipaddress.ip_address(str(each[4][0]).split("%")[0]) for each in known]
    return [a for a in dict.fromkeys(found) if is_private(a) and not a.is_loopback and not a.is_link_local]


def is_private(address: "Address") -> bool:
    """Say whether an address is one that only a local network knows (RFC 1918, RFC 4193, RFC 3927, loopback)."""
    return any(
        address in network for network in map(ipaddress.ip_network, _PRIVATE) if network.version == address.version
    )


def shop_names(asked: Sequence[str] = ()) -> tuple[str, ...]:
    """Give the names and addresses the certificate is for: this machine's own, and those that were asked for.

    Raises CannotCertify for a name or address that is not a local one.
    """
    own = socket.gethostname().split(".")[0].lower()
    names = [own, f"{own}.local"] if own and own != "localhost" else []
    names += [str(address) for address in private_addresses()]
    for each in asked:
        name = each.strip().strip("[]").lower().rstrip(".")
        try:
            local = is_private(ipaddress.ip_address(name))
        except ValueError:
            local = "." not in name or name.endswith(LOCAL_ENDINGS)
        if not local:
            raise CannotCertify(
                f"{each} can be reached from outside the shop. The shop's own certificate is for private addresses and "
                f"names that end in {', '.join(LOCAL_ENDINGS)} alone. Put a public name behind a server with its own certificate."
            )
        names.append(name)
    return tuple(dict.fromkeys([*names, "localhost", "127.0.0.1", "::1"]))


def certificates(folder: Path, names: Sequence[str], now: datetime | None = None) -> Certificates:
    """Give the certificates in a folder, made or renewed where they are missing, run out soon or lack a name.

    Raises CannotCertify when this machine's clock is before the authority was made, or its files cannot be read.
    """
    from cryptography.hazmat.primitives import hashes

    now = now or datetime.now(UTC)
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)
    if now < EARLIEST:
        raise CannotCertify(f"This machine's clock says {now:%-d %B %Y}. Set the clock, then start again.")
    authority, key = _authority(folder, names, now)
    names = [name for name in names if _inside(authority, name)]
    server, renewed = _server(folder, names, authority, key, now)
    print_of = authority.fingerprint(hashes.SHA256()).hex().upper()
    return Certificates(
        authority=folder / "authority.crt",
        chain=folder / "server.pem",
        key=folder / "server.key",
        fingerprint=":".join(print_of[n : n + 2] for n in range(0, len(print_of), 2)),
        names=tuple(names),
        until=server.not_valid_after_utc,
        renewed=renewed,
    )


def _inside(authority: "x509.Certificate", name: str) -> bool:
    """Say whether the authority may speak for a name; one name outside spoils the certificate for all the others."""
    from cryptography import x509

    said = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    if isinstance(_general(name), x509.IPAddress):
        return True
    allowed = [str(each.value) for each in said if isinstance(each, x509.DNSName)]
    return any(name == each or name.endswith(f".{each}") for each in allowed)


def _authority(folder: Path, names: Sequence[str], now: datetime) -> "tuple[x509.Certificate, EllipticCurvePrivateKey]":
    from cryptography import x509

    file, key_file = folder / "authority.crt", folder / "authority.key"
    if not file.exists():
        made, key = _new_authority(names, now)
        _write(key_file, _pem_key(key))
        _write(file, _pem(made), 0o644)
        return made, key
    try:
        known = x509.load_pem_x509_certificate(file.read_bytes())
        key = _load_key(key_file)
        whole = key.public_key() == known.public_key()
    except (ValueError, OSError) as error:
        raise CannotCertify(_broken(folder)) from error
    if not whole:
        raise CannotCertify(_broken(folder))
    if now < known.not_valid_before_utc:
        raise CannotCertify(
            f"This machine's clock says {now:%-d %B %Y}, which is before the shop's certificate was made "
            f"({known.not_valid_before_utc + BACKDATED:%-d %B %Y}). Set the clock, then start again."
        )
    if now > known.not_valid_after_utc - RENEW_BEFORE:
        raise CannotCertify(
            f"The shop's certificate authority ends on {known.not_valid_after_utc:%-d %B %Y}, by this machine's clock of "
            f"{now:%-d %B %Y}. If the clock is right, move {folder} away and start again: every phone then takes the new one."
        )
    if key_file.stat().st_mode & 0o077:
        key_file.chmod(0o600)
    return known, key


def _broken(folder: Path) -> str:
    return (
        f"The shop's certificate in {folder} cannot be read, or its key is another's. Nothing was changed. "
        "Put that folder back from your copy, or move it away and start again: every phone then takes the new one."
    )


def _new_authority(names: Sequence[str], now: datetime) -> "tuple[x509.Certificate, EllipticCurvePrivateKey]":
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = _name(f"Shop of {socket.gethostname().split('.')[0][:30] or 'this machine'}, {secrets.token_hex(3)}")
    inside: list[x509.GeneralName] = [x509.IPAddress(ipaddress.ip_network(each)) for each in _PRIVATE]
    single = [name for name in names if "." not in name and ":" not in name]
    inside += [x509.DNSName(each) for each in dict.fromkeys((*single, *(e.lstrip(".") for e in LOCAL_ENDINGS)))]
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(now + AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.NameConstraints(permitted_subtrees=inside, excluded_subtrees=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    return made, key


def _server(
    folder: Path, names: Sequence[str], authority: "x509.Certificate", key: "EllipticCurvePrivateKey", now: datetime
) -> "tuple[x509.Certificate, bool]":
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID

    chain, key_file = folder / "server.pem", folder / "server.key"
    known = _known_server(chain, key_file)
    fits = known is not None and known.issuer == authority.subject and _names_of(known) >= set(names)
    if known is not None and fits and known.not_valid_before_utc <= now < known.not_valid_after_utc - RENEW_BEFORE:
        return known, False
    own = ec.generate_private_key(ec.SECP256R1())
    made = (
        x509.CertificateBuilder()
        .subject_name(_name(names[0]))
        .issuer_name(authority.subject)
        .public_key(own.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(min(now + SERVER_LASTS - BACKDATED, authority.not_valid_after_utc))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(own.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(key_file, _pem_key(own))
    _write(chain, _pem(made) + _pem(authority), 0o644)
    return made, True


def _known_server(chain: Path, key_file: Path) -> "x509.Certificate | None":
    """Give the server's certificate where it and its key are whole; another is made otherwise, at no cost to the phones."""
    from cryptography import x509

    try:
        known = x509.load_pem_x509_certificate(chain.read_bytes())
        return known if _load_key(key_file).public_key() == known.public_key() else None
    except (ValueError, OSError):
        return None


def _names_of(certificate: "x509.Certificate") -> set[str]:
    from cryptography import x509

    said = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {*said.get_values_for_type(x509.DNSName), *map(str, said.get_values_for_type(x509.IPAddress))}


def _general(name: str) -> "x509.GeneralName":
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _name(common: str) -> "x509.Name":
    from cryptography import x509
    from cryptography.x509.oid import NameOID

    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common[:64])])


def _usage(*, signs: bool) -> "x509.KeyUsage":
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs,
        crl_sign=signs,
        encipher_only=False,
        decipher_only=False,
    )


def _pem(certificate: "x509.Certificate") -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding

    return certificate.public_bytes(Encoding.PEM)


def _pem_key(key: "EllipticCurvePrivateKey") -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _load_key(file: Path) -> "EllipticCurvePrivateKey":
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    key = load_pem_private_key(file.read_bytes(), password=None)
    if not isinstance(key, EllipticCurvePrivateKey):
        raise ValueError("not a key of ours")
    return key


def _write(file: Path, data: bytes, mode: int = 0o600) -> None:
    """Write a file whole, never readable by others for a moment where it holds a key."""
    half = file.with_name(f".{file.name}.half")
    half.unlink(missing_ok=True)
    with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
    half.replace(file)
