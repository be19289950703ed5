"""`serve --shop`: TLS for the shop's phones, a plain door where they fetch the certificate, and the steps said aloud."""

import errno
import socket
import sys
import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.cli.shop_certificate import CannotCertify, Certificates, certificates, shop_names
from witnessmark.cli.shop_relay import Relay, context_for

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

TLS_PORT, DOOR_PORT = 8043, 8042
OPEN_AT_THE_DOOR = ("/certificate/", "/certificate/shop.crt")
WITHOUT = (
    "Without the certificate a phone shows a warning, or with plain http: pictures wait on it all the same, but the page "
    "does not open without a signal, the camera does not stay open between pictures, and nothing can be spoken."
)


@dataclass(frozen=True)
class Shop:
    """Where the shop's phones find the screens and the certificate."""

    address: str
    door: str
    certificates: Certificates

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        made = self.certificates
        return {
            "address": self.address,
            "certificate": self.door,
            "fingerprint": made.fingerprint,
            "names": list(made.names),
            "until": made.until.isoformat(),
            "renewed": made.renewed,
        }


def open_shop(folder: Path, behind: int, host: str, tls_port: int, door_port: int, names: Sequence[str]) -> Shop:
    """Make or renew the certificate and listen for the phones; the server behind answers on this machine's port `behind`.

    Raises CannotRun with the mend where a port is taken, a name is a public one, or the clock is wrong.
    """
    from witnessmark.cli.main import CannotRun

    try:
        wanted = shop_names(names)
        made = certificates(folder, wanted)
    except CannotCertify as why:
        raise CannotRun(str(why)) from why
    relay = Relay(host or None, tls_port or _free_port(), behind, context_for(made.chain, made.key))
    doors = _listen(host, door_port or _free_port())
    try:
        relay.start()
    except OSError as error:
        for each in doors:
            each.close()
        raise _not_listening(error, tls_port, "--tls-port") from error
    threading.Thread(target=_keep_door, args=(doors,), daemon=True, name="door").start()
    shown = _bracketed(_first(made.names, host))
    return Shop(f"https://{shown}:{relay.port}/", f"http://{shown}:{doors[0].getsockname()[1]}/certificate/", made)


def tell_shop(shop: Shop) -> None:
    """Print the steps, and the code that leads a phone to them."""
    import segno

    print(f"In the shop: {shop.address}")
    print(f"Each phone takes the shop's certificate once: {shop.door}")
    segno.make_qr(shop.door, error="m").terminal(out=sys.stdout, compact=True, border=2)
    print("1. The phone joins the shop's own network and reads this code with its camera.")
    print("2. The page gives it the certificate and names the settings in which it is trusted.")
    print("3. Compare the fingerprint there with this one before it is trusted:")
    print(f"   {shop.certificates.fingerprint}")
    print(
        f"Good until {shop.certificates.until:%-d %B %Y}, and renewed by itself before; for: {', '.join(shop.certificates.names)}."
    )
    print(WITHOUT)
    if shop.certificates.names[0] == "localhost":
        print("This machine is on no local network now: no phone reaches it until it is. Join one, then start again.")
    sys.stdout.flush()


def allow(shop: Shop) -> None:
    """Let the screens answer under the certificate's names, and hand out its authority."""
    from django.conf import settings

    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, *(_bracketed(name) for name in shop.certificates.names)]
    settings.SHOP_ADDRESS = shop.address
    settings.SHOP_AUTHORITY = str(shop.certificates.authority)
    settings.SHOP_FINGERPRINT = shop.certificates.fingerprint


def _first(names: Sequence[str], host: str) -> str:
    """The address that a phone is told: the one listened on, or the first that others reach; names need help to be found."""
    if host and host not in ("0.0.0.0", "::"):  # noqa: S104  compared, not bound
        return host
    numbers = [name for name in names if _is_number(name) and name not in ("127.0.0.1", "::1")]
    return next((n for n in numbers if ":" not in n), numbers[0] if numbers else "localhost")


def _is_number(name: str) -> bool:
    return ":" in name or name.replace(".", "").isdigit()


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("", 0))
        return int(asked.getsockname()[1])


def _listen(host: str, port: int) -> list[socket.socket]:
    """Listen on the host, or on every interface of both kinds of address."""
    from witnessmark.cli.main import CannotRun

    if not 0 < port <= 65535:
        raise CannotRun(f"There is no port {port}. Choose one from 1024 to 65535.")
    try:
        found = socket.getaddrinfo(host or None, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except socket.gaierror as error:
        raise CannotRun(f"{host} is no address of this machine. Leave --host out to answer on all of them.") from error
    listening: list[socket.socket] = []
    failed: OSError | None = None
    for family, kind, _, _, where in found:
        each = None
        try:
            each = socket.socket(family, kind)
            each.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6:
                each.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            each.bind(where)
            each.listen(64)
            listening.append(each)
        except OSError as error:
            if each is not None:
                each.close()
            if error.errno == errno.EADDRINUSE or failed is None:
                failed = error
    if not listening or (failed is not None and failed.errno == errno.EADDRINUSE):
        for each in listening:
            each.close()
        raise _not_listening(failed or OSError(errno.EADDRNOTAVAIL, "no address"), port, "--door-port") from failed
    return listening


def _not_listening(error: OSError, port: int, option: str) -> Exception:
    from witnessmark.cli.main import CannotRun

    if error.errno == errno.EADDRINUSE or "in use" in str(error):
        return CannotRun(
            f"Port {port} is taken; perhaps witnessmark serves the shop already. "
            f"End that one, or choose another port: {option} {port + 10 if port < 65000 else 8053}."
        )
    if error.errno == errno.EACCES:
        return CannotRun(f"Port {port} is kept for the system. Choose one from 1024 on: {option} {TLS_PORT}.")
    return CannotRun(f"Nothing can be listened on at port {port} ({error.strerror or error}). Check --host.")


def _keep_door(doors: list[socket.socket]) -> None:
    import waitress
    from django.core.wsgi import get_wsgi_application

    app = at_the_door(get_wsgi_application())
    waitress.create_server(app, sockets=doors, threads=2, ident="", clear_untrusted_proxy_headers=True).run()


def at_the_door(app: "WSGIApplication") -> "WSGIApplication":
    """Give the certificate's page and what it is drawn with, to nobody in particular; send everything else there."""

    def answer(environ: "WSGIEnvironment", start: "StartResponse") -> Iterable[bytes]:
        path = environ.get("PATH_INFO", "")
        if environ["REQUEST_METHOD"] in ("GET", "HEAD") and (path in OPEN_AT_THE_DOOR or path.startswith("/static/")):
            return app({key: value for key, value in environ.items() if key != "HTTP_COOKIE"}, start)
        start("303 See Other", [("Location", "/certificate/"), ("Content-Length", "0")])
        return []

    return answer
