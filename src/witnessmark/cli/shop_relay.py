"""TLS in front of the screens: bytes are taken off the wire, told to the server as they are, and given back.

The server behind answers on this machine alone, on a port that only the relay is told. What a browser says of the way it
came (X-Forwarded-*, Forwarded) is taken out, and the relay's own word put in, so that nobody can claim to have come by TLS.
One request a connection: the next request on the same wire would pass with its headers unread.
"""

import asyncio
import contextlib
import ssl
import threading
from pathlib import Path

HEAD_MOST = 64 * 1024
QUIET_S, SILENT_S, PIECE = 30.0, 300.0, 64 * 1024
OPEN_MOST = 200
_OURS = (b"x-forwarded-", b"forwarded:", b"connection:", b"keep-alive:", b"proxy-")


def context_for(chain: Path, key: Path) -> ssl.SSLContext:
    """Give the server's side of TLS, 1.2 or newer."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.load_cert_chain(chain, key)
    return context


def forwarded(head: bytes, peer: str) -> bytes | None:
    """Give a request's head as the server behind gets it; None where it is no head of a request.

    `head` ends with its empty line.
    """
    lines = head[:-4].split(b"\r\n")
    if len(lines[0].split(b" ")) != 3 or b"\n" in b"".join(lines) or b"\0" in head:
        return None
    kept = [line for line in lines[1:] if not line.lower().startswith(_OURS)]
    if any(line[:1] in (b" ", b"\t") or b":" not in line for line in kept):
        return None  # a folded line could carry a header past what was taken out
    own = [b"X-Forwarded-Proto: https", b"X-Forwarded-For: " + peer.encode(), b"Connection: close"]
    return b"\r\n".join([lines[0], *kept, *own]) + b"\r\n\r\n"


class Relay:
    """Listens with TLS on an address and relays to the server on this machine."""

    def __init__(self, host: str | None, port: int, behind: int, context: ssl.SSLContext) -> None:
        self.host, self.port, self.behind, self.context = host, port, behind, context
        self._free: asyncio.Semaphore

    def start(self) -> None:
        """Listen in a thread of its own; raises OSError where the port cannot be had."""
        ready: list[BaseException | None] = []
        listening = threading.Event()

        def run() -> None:
            try:
                asyncio.run(self._serve(listening))
            except OSError as error:
                ready.append(error)
            finally:
                listening.set()

        threading.Thread(target=run, daemon=True, name="tls").start()
        listening.wait(30)
        if ready and ready[0] is not None:
            raise ready[0]

    async def _serve(self, listening: threading.Event) -> None:
        self._free = asyncio.Semaphore(OPEN_MOST)
        loop = asyncio.get_running_loop()
        loop.set_exception_handler(lambda _loop, _told: None)  # a phone that left in mid-word is no fault to tell of
        server = await asyncio.start_server(
            self._answer, self.host, self.port, ssl=self.context, limit=HEAD_MOST, ssl_handshake_timeout=15
        )
        self.port = server.sockets[0].getsockname()[1]
        listening.set()
        async with server:
            await server.serve_forever()

    async def _answer(self, phone: asyncio.StreamReader, back: asyncio.StreamWriter) -> None:
        async with self._free:
            with contextlib.suppress(OSError, asyncio.IncompleteReadError, TimeoutError, ssl.SSLError):
                await self._one(phone, back)
            with contextlib.suppress(OSError, ssl.SSLError, TimeoutError):
                back.close()
                await asyncio.wait_for(back.wait_closed(), 5)

    async def _one(self, phone: asyncio.StreamReader, back: asyncio.StreamWriter) -> None:
        try:
            head = await asyncio.wait_for(phone.readuntil(b"\r\n\r\n"), QUIET_S)
        except asyncio.LimitOverrunError:
            await _refuse(back, b"431 Request Header Fields Too Large")
            return
        told = forwarded(head, str(back.get_extra_info("peername")[0]))
        if told is None:
            await _refuse(back, b"400 Bad Request")
            return
        try:
            there, to = await asyncio.open_connection("127.0.0.1", self.behind)
        except OSError:
            await _refuse(back, b"502 Bad Gateway")
            return
        to.write(told)
        ways = [asyncio.create_task(_pass(phone, to)), asyncio.create_task(_pass(there, back))]
        try:
            # The answer ends the exchange; so does a phone that left, for half a picture is no picture.
            await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for way in ways:
                way.cancel()
            await asyncio.gather(*ways, return_exceptions=True)
            with contextlib.suppress(OSError):
                to.close()


async def _refuse(back: asyncio.StreamWriter, status: bytes) -> None:
    back.write(b"HTTP/1.1 " + status + b"\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
    await back.drain()


async def _pass(source: asyncio.StreamReader, to: asyncio.StreamWriter) -> None:
    with contextlib.suppress(OSError, TimeoutError, ssl.SSLError):
        while piece := await asyncio.wait_for(source.read(PIECE), SILENT_S):
            to.write(piece)
            await to.drain()
