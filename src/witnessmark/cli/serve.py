"""`witnessmark serve [--host 127.0.0.1] [--port 8040] [--shop]`: the screens, and a worker for what need not be waited for.

With --shop the screens stay on this machine at --port, and TLS under the shop's own certificate answers the phones.

Exit codes: 0 ended when told to, 2 could not run (the port is taken, the folder cannot be written).
With --json one object when it answers: {address, begin}; `begin` is the link that begins an empty record, else null.
With --shop also {shop: {address, certificate, fingerprint, names, until, renewed}}.
"""

import argparse
import contextlib
import errno
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from witnessmark.cli.shop_network import DOOR_PORT, TLS_PORT, Shop, allow, open_shop, tell_shop
from witnessmark.cli.sign_in import PORT

# A form may bring several photographs at once; each is held against its own limit afterwards.
PHOTOS_A_FORM = 4
THIS_MACHINE = "127.0.0.1"
RELAYED: dict[str, Any] = {
    "trusted_proxy": THIS_MACHINE,
    "trusted_proxy_count": 1,
    "trusted_proxy_headers": {"x-forwarded-proto", "x-forwarded-for"},
}


def add_address(parser: argparse.ArgumentParser) -> None:
    """Take --host and --port; the demo takes the same."""
    parser.add_argument("--host", default="127.0.0.1", help="the address to answer on (this machine alone: 127.0.0.1)")
    parser.add_argument("--port", type=int, default=PORT, help=f"the port (else {PORT}; 0 takes a free one)")


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    add_address(parser)
    parser.add_argument("--shop", action="store_true", help="answer the shop's phones, under a certificate made here")
    parser.add_argument(
        "--tls-port", type=int, default=TLS_PORT, help=f"the phones' port (else {TLS_PORT}; 0: a free one)"
    )
    parser.add_argument(
        "--door-port",
        type=int,
        default=DOOR_PORT,
        help=f"where they fetch the certificate (else {DOOR_PORT}; 0: a free one)",
    )
    parser.add_argument(
        "--name", action="append", default=[], help="a further local name or address of this machine; may be said again"
    )


def run(args: argparse.Namespace) -> int:
    """Bring the record up to this version and serve it until told to end."""
    from witnessmark.cli.main import open_record, print_json

    if args.host != THIS_MACHINE and args.shop:
        shop_host, host = args.host, THIS_MACHINE
    else:
        shop_host, host = "", args.host
    listening, address = listen(host, args.port)
    with listening:
        open_record(make=True)
        shop = _open_shop(args, shop_host, listening.getsockname()[1]) if args.shop else None
        begin = beginning(address)
        if args.json:
            print_json({"address": address, "begin": begin, **({"shop": shop.to_dict()} if shop else {})})
        else:
            print(address)
            if begin:
                print(f"Nobody is in the record yet. Begin it with your name: {begin}")
            if shop:
                tell_shop(shop)
        sys.stdout.flush()
        serve(listening, relayed=shop is not None)
    return 0


def _open_shop(args: argparse.Namespace, host: str, behind: int) -> Shop:
    from django.conf import settings

    folder = Path(settings.DATA) / "certificate"
    shop = open_shop(folder, behind, host, args.tls_port, args.door_port, [*args.name, *([host] if host else [])])
    allow(shop)
    return shop


def beginning(address: str) -> str | None:
    """Give the link that begins an empty record with a name; None where somebody is in it."""
    from witnessmark.records.actions.people import beginning_token, is_unbegun

    return f"{address}begin/{beginning_token()}/" if is_unbegun() else None


def listen(host: str, port: int) -> tuple[socket.socket, str]:
    """Take the port before anything else is done; give the socket and the address of the screens.

    Raises CannotRun with the mend when the port is taken or the host is not this machine's.
    """
    from witnessmark.cli.main import CannotRun

    if not 0 <= port <= 65535:
        raise CannotRun(f"There is no port {port}. Choose one from 1024 to 65535, or 0 for a free one.")
    try:
        family, kind, _, _, where = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    except socket.gaierror as error:
        raise CannotRun(f"{host} is no address of this machine. Use --host 127.0.0.1.") from error
    listening = socket.socket(family, kind)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(where)
        listening.listen(128)
    except OSError as error:
        listening.close()
        if error.errno == errno.EADDRINUSE:
            raise CannotRun(
                f"Port {port} is taken; perhaps witnessmark runs already: http://{host}:{port}/. "
                f"End that one, or choose another port: --port {port + 1 if port < 65535 else 0}."
            ) from error
        if error.errno == errno.EACCES:
            raise CannotRun(f"Port {port} is kept for the system. Choose one from 1024 on: --port {PORT}.") from error
        raise CannotRun(f"{host} is no address of this machine ({error.strerror}). Use --host 127.0.0.1.") from error
    shown = f"[{host}]" if family == socket.AF_INET6 else host
    return listening, f"http://{shown}:{listening.getsockname()[1]}/"


def serve(listening: socket.socket, afterwards: Callable[[], None] | None = None, *, relayed: bool = False) -> None:
    """Answer on this socket until SIGTERM or Ctrl-C; `afterwards` runs beside it once it answers.

    With `relayed`, what comes from this machine's own relay says by which way it came to it; nothing else is believed.
    """
    import waitress
    from django.conf import settings
    from django.core.wsgi import get_wsgi_application

    def end(number: int, frame: object) -> None:
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, end)
    server = waitress.create_server(
        get_wsgi_application(),
        sockets=[listening],
        threads=8,
        ident="",
        max_request_body_size=PHOTOS_A_FORM * settings.PHOTO_MAX_BYTES,
        clear_untrusted_proxy_headers=True,
        **RELAYED if relayed else {},
    )
    with _worker():
        if afterwards is not None:
            threading.Thread(target=afterwards, daemon=True).start()
        server.run()  # waitress ends by itself on SystemExit and KeyboardInterrupt


@contextlib.contextmanager
def _worker() -> Iterator[None]:
    """Keep a worker beside the server: started anew when it dies, ended with it, also when the server is killed."""
    ending = threading.Event()
    now: list[subprocess.Popen[bytes]] = []

    def keep() -> None:
        pause = 0.7  # the first page comes first
        while not ending.wait(pause):
            command = [sys.executable, "-m", "witnessmark", "worker", "--parent", str(os.getpid())]
            worker = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
            now[:] = [worker]
            if ending.is_set():
                worker.terminate()
            worker.wait()
            pause = 5.0

    keeper = threading.Thread(target=keep, daemon=True)
    keeper.start()
    try:
        yield
    finally:
        ending.set()
        for worker in now:
            worker.terminate()
        keeper.join(10)
        if keeper.is_alive():
            for worker in now:
                worker.kill()  # its lease runs out and another takes the work
