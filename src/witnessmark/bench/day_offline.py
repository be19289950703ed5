"""Pictures without a signal: a real browser, a real server, and everything that goes wrong in a hangar.

The browser is killed, the server is killed, connections are cut in the middle of an upload and answers are swallowed, all at
points drawn from a seed. What was sent is known by the SHA-256 of each picture before it is given to the browser; what
arrived is read out of the record's own file, not through the program.
"""

import contextlib
import hashlib
import io
import os
import random
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from witnessmark.bench.figures import SEED, NotMeasured, figure

if TYPE_CHECKING:
    from playwright.sync_api import Page

PICTURES, ROUND = 500, 25
NAME = "Measurer"
ENDS_WITHIN_S = 240
TROUBLES = ("browser", "server", "cut", "swallowed", "two pages")


def chromium() -> str:
    """Give the system's browser; a figure that needs one says so where there is none."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    try:
        import playwright  # noqa: F401  the tests' package; the program itself runs without it
    except ImportError:
        found = None
    if found is None:
        raise NotMeasured("needs Chromium and the tests' packages: `./witnessmark test --install` brings them")
    return found


def free_port() -> int:
    """Give a port that nobody listens on."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


class Server:
    """`witnessmark serve` on a data folder, killed and started again on the same port."""

    def __init__(self, data: Path, port: int) -> None:
        self.data, self.port = data, port
        self.begin = ""
        self.kills = 0

    def start(self) -> None:
        """Start it and wait until it answers."""
        words = ["--data", str(self.data), "serve", "--port", str(self.port)]
        told = (self.data.parent / "serve.txt").open("w+")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "witnessmark", *words],
            env={**os.environ, "WITNESSMARK_DATA": str(self.data), "WITNESSMARK_DATABASE": "", "PYTHONUNBUFFERED": "1"},
            stdout=told,
            stderr=subprocess.DEVNULL,
        )
        until = time.monotonic() + 60
        while time.monotonic() < until and self.process.poll() is None:
            with (
                contextlib.suppress(OSError),
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/sign-in/", timeout=5),
            ):
                begun = [line for line in (self.data.parent / "serve.txt").read_text().split() if "/begin/" in line]
                self.begin = begun[0] if begun else self.begin
                return
            time.sleep(0.05)
        raise RuntimeError("the server did not answer")

    def kill(self) -> None:
        """Pull its plug."""
        self.process.kill()
        self.process.wait()
        self.kills += 1

    def end(self) -> None:
        """End it in order."""
        self.process.terminate()
        self.process.wait()


class Wire:
    """The way between phone and shop: there, gone, cut in the middle of what goes up, or deaf to what comes back."""

    def __init__(self, behind: int, chance: random.Random) -> None:
        self.behind, self.chance = behind, chance
        self.state = "there"
        self.cuts = 0
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = int(self.listening.getsockname()[1])
        threading.Thread(target=self._take, daemon=True).start()

    def _take(self) -> None:
        while True:
            try:
                phone, _ = self.listening.accept()
            except OSError:
                return
            if self.state == "gone":
                _reset(phone)
                continue
            threading.Thread(target=self._relay, args=(phone,), daemon=True).start()

    def _relay(self, phone: socket.socket) -> None:
        try:
            shop = socket.create_connection(("127.0.0.1", self.behind), 10)
        except OSError:
            _reset(phone)
            return
        down = threading.Thread(target=self._pass, args=(shop, phone, False), daemon=True)
        down.start()
        self._pass(phone, shop, True)

    def _pass(self, source: socket.socket, to: socket.socket, up: bool) -> None:
        at = self.chance.randint(1500, 30_000)
        passed, uploading = 0, False
        with contextlib.suppress(OSError):
            while piece := source.recv(4096):
                uploading = uploading or (up and piece.startswith(b"POST "))
                passed += len(piece)
                trouble = self.state == "gone" or (self.state == "cut" and uploading and passed > at)
                if trouble or (
                    self.state == "swallowed" and not up and b'"kept"' in piece and self.chance.random() < 0.5
                ):
                    self.cuts += 1
                    if self.state == "cut" and self.chance.random() < 0.3:
                        self.state = "there"
                    break
                to.sendall(piece)
        _reset(source)
        _reset(to)


def _reset(wire: socket.socket) -> None:
    """End a connection as a lost signal does: without a word."""
    with contextlib.suppress(OSError):
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
    with contextlib.suppress(OSError):
        wire.shutdown(socket.SHUT_RDWR)
    wire.close()


class Phone:
    """A browser with a folder of its own, so that it can be killed and finds again what it kept."""

    def __init__(self, program: str, folder: Path, playwright: Any, address: str) -> None:
        self.program, self.folder, self.playwright, self.address = program, folder, playwright, address
        self.kills = 0

    def start(self) -> None:
        """Start it and connect."""
        port_file = self.folder / "DevToolsActivePort"
        port_file.unlink(missing_ok=True)
        self.process = subprocess.Popen(
            [
                self.program,
                *(
                    "--headless=new",
                    "--no-sandbox",
                    "--disable-gpu",
                    "--no-first-run",
                    "--disable-background-networking",
                ),
                *("--remote-debugging-port=0", f"--user-data-dir={self.folder}", "about:blank"),
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        until = time.monotonic() + 60
        while time.monotonic() < until and (not port_file.exists() or not port_file.read_text().strip()):
            time.sleep(0.05)
        port = port_file.read_text().split()[0]
        self.browser = self.playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        self.context = self.browser.contexts[0]

    def open(self, path: str) -> "Page":
        """Open a page of the shop."""
        page: Page = self.context.new_page()
        page.set_default_timeout(60_000)
        with contextlib.suppress(Exception):  # without a signal it opens all the same, from the phone
            page.goto(f"{self.address}{path}")
        return page

    def kill(self) -> None:
        """Take the battery out."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        with contextlib.suppress(Exception):
            self.browser.close()
        self.kills += 1


def noise(chance: random.Random) -> bytes:
    """Draw a small picture that no other equals."""
    from PIL import Image

    image = Image.frombytes("L", (160, 120), chance.randbytes(160 * 120))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=70)
    return out.getvalue()


def give(page: "Page", pictures: list[bytes], names: Iterator[int]) -> None:
    """Choose pictures on the page and wait until the phone says that it has them."""
    before = int(page.evaluate("document.querySelector('#take').dataset.taken || '0'"))
    files = [{"name": f"IMG_{next(names):04d}.jpg", "mimeType": "image/jpeg", "buffer": each} for each in pictures]
    page.locator("#pictures").set_input_files(files)  # type: ignore[arg-type]
    page.wait_for_function(
        "n => Number(document.querySelector('#take').dataset.taken || 0) >= n", arg=before + len(pictures)
    )


def arrived(data: Path) -> list[str]:
    """Read out of the record's file which pictures came in, each as often as it is there, with its bytes on the disk."""
    with contextlib.closing(sqlite3.connect(data / "record.sqlite3")) as record:
        rows = [str(row[0]) for row in record.execute("SELECT photo_id FROM records_picturein")]
    return [sha for sha in rows if hashlib.sha256((data / "photos" / sha[:2] / sha).read_bytes()).hexdigest() == sha]


def through_trouble(pictures: int, seed: int) -> tuple[int, int, str]:
    """Send pictures through every trouble; give how many were lost, how many doubled, and what happened meanwhile."""
    from itertools import count

    program = chromium()
    from playwright.sync_api import sync_playwright

    chance = random.Random(seed)  # noqa: S311  no secret
    sent: list[str] = []
    names = count(1)
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-", ignore_cleanup_errors=True) as temporary:
        data = Path(temporary) / "data"
        server = Server(data, free_port())
        server.start()
        wire = Wire(server.port, chance)
        with sync_playwright() as playwright:
            phone = Phone(program, Path(temporary) / "phone", playwright, f"http://127.0.0.1:{wire.port}")
            try:
                phone.start()
                page = phone.open(urlsplit(server.begin).path)
                page.locator("#name").fill(NAME)
                page.locator("button.now").click()
                page.wait_for_selector("#elsewhere")
                page = phone.open("/in/")
                page.evaluate("navigator.serviceWorker.ready.then(() => true)")
                rounds = [TROUBLES[n % len(TROUBLES)] for n in range(-(-pictures // ROUND))]
                chance.shuffle(rounds)
                for trouble in rounds:
                    batch = [noise(chance) for _ in range(min(ROUND, pictures - len(sent)))]
                    page = _one_round(trouble, phone, page, server, wire, batch, names, chance)
                    sent += [hashlib.sha256(each).hexdigest() for each in batch]
                wire.state = "there"
                page.reload()
                until = time.monotonic() + ENDS_WITHIN_S
                while time.monotonic() < until and page.evaluate("document.body.dataset.waiting") != "0":
                    page.evaluate("dispatchEvent(new Event('online'))")
                    page.wait_for_timeout(500)
            finally:
                phone.kill()
                server.end()
                wire.listening.close()
        came = arrived(data)
        lost = len(set(sent) - set(came))
        doubled = len(came) - len(set(came))
    told = (
        f"{len(sent)} pictures, seed {seed}: browser killed {phone.kills - 1} times, server killed {server.kills} times, "
        f"{wire.cuts} connections cut while something went up or the answer came back; {lost} lost, {doubled} doubled"
    )
    return lost, doubled, told


def _signed_in(phone: Phone, server: Server) -> "Page":
    """Open the screen of pictures; a phone whose battery went may have forgotten who it is, and gets a new link."""
    page = phone.open("/in/")
    if "/sign-in/" in page.url:
        told = subprocess.run(
            [
                sys.executable,
                "-m",
                "witnessmark",
                "--data",
                str(server.data),
                "sign-in",
                NAME,
                "--port",
                str(server.port),
            ],
            env={**os.environ, "WITNESSMARK_DATA": str(server.data), "WITNESSMARK_DATABASE": ""},
            capture_output=True,
            text=True,
            check=True,
        )
        page.goto(f"{phone.address}{urlsplit(told.stdout.strip()).path}")
        page.locator("button.now").click()
        page.wait_for_selector("#elsewhere")
        page.goto(f"{phone.address}/in/")
    return page


def _one_round(
    trouble: str,
    phone: Phone,
    page: "Page",
    server: Server,
    wire: Wire,
    batch: list[bytes],
    names: Iterator[int],
    chance: random.Random,
) -> "Page":
    """Give a batch to the phone while one thing goes wrong."""
    wire.state = {"browser": chance.choice(["gone", "there"]), "cut": "cut", "swallowed": "swallowed"}.get(
        trouble, "there"
    )
    if trouble == "two pages":
        other = phone.open("/in/")
        half = len(batch) // 2
        give(page, batch[:half], names)
        give(other, batch[half:], names)
        other.close()
        return page
    give(page, batch, names)
    page.wait_for_timeout(chance.randint(0, 700))
    if trouble == "browser":
        phone.kill()
        wire.state = "there"
        phone.start()
        return _signed_in(phone, server)
    if trouble == "server":
        server.kill()
        server.start()
    else:
        page.wait_for_timeout(1500)
    wire.state = "there"
    page.evaluate("dispatchEvent(new Event('online'))")
    return page


@figure("day.lost_or_doubled_offline", unit="pictures", goal=0)
def lost_or_doubled_offline(full: bool) -> tuple[float, str]:
    """Of 500 pictures (2,000 in full) through a killed browser, a killed server and cut uploads: those lost or there twice."""
    lost, doubled, told = through_trouble(4 * PICTURES if full else PICTURES, SEED)
    return lost + doubled, told
