"""`serve --shop` as a person runs it: over TLS with the shop's authority as the only one trusted."""

import http.client
import json
import socket
import ssl
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.unit.test_serve import started, witnessmark


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Any]]:
    data = tmp_path_factory.mktemp("shop") / "data"
    words = ("--shop", "--port", "0", "--tls-port", "0", "--door-port", "0", "--name", "hangar", "--json")
    with started(data, "serve", *words) as server:
        assert server.stdout is not None
        text = ""
        while not text.rstrip().endswith("\n}"):
            line = server.stdout.readline()
            assert line, server.stderr.read() if server.stderr else ""
            text += line
        yield {**json.loads(text), "data": data}
        server.terminate()
        assert server.wait(60) == 0


def trusting(shop: dict[str, Any]) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(shop["data"] / "certificate" / "authority.crt"))


def ask(
    shop: dict[str, Any], path: str, name: str = "127.0.0.1", method: str = "GET", **headers: str
) -> tuple[http.client.HTTPResponse, str]:
    port = urlsplit(shop["shop"]["address"]).port
    raw = socket.create_connection(("127.0.0.1", port or 0), 30)
    line = http.client.HTTPSConnection(name, port or 0)
    line.sock = trusting(shop).wrap_socket(raw, server_hostname=name)
    line.request(method, path, headers={"Host": f"{name}:{port}", **headers})
    answer = line.getresponse()
    return answer, answer.read().decode(errors="replace")


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "hangar"])
def test_the_screens_answer_under_each_name_with_the_shops_authority_alone(shop: dict[str, Any], name: str) -> None:
    answer, text = ask(shop, "/sign-in/", name)
    assert answer.status == 200
    assert "Nobody is in this record yet." in text
    assert "hangar" in shop["shop"]["names"]


def test_a_browser_that_was_not_given_it_does_not_trust_it(shop: dict[str, Any]) -> None:
    port = urlsplit(shop["shop"]["address"]).port
    with (
        socket.create_connection(("127.0.0.1", port or 0), 30) as raw,
        pytest.raises(ssl.SSLCertVerificationError),
    ):
        ssl.create_default_context().wrap_socket(raw, server_hostname="127.0.0.1")


def test_it_knows_that_it_came_by_tls_and_its_cookies_stay_there(shop: dict[str, Any]) -> None:
    answer, _ = ask(shop, f"/begin/{urlsplit(shop['begin']).path.split('/')[2]}/")
    cookies = answer.headers.get_all("Set-Cookie") or []
    assert cookies
    assert all("Secure" in cookie for cookie in cookies)
    here = http.client.HTTPConnection(str(urlsplit(shop["address"]).netloc), timeout=30)
    here.request("GET", urlsplit(shop["begin"]).path, headers={"X-Forwarded-For": "1.2.3.4"})
    plain = here.getresponse()
    assert plain.status == 200
    assert not any("Secure" in cookie for cookie in plain.headers.get_all("Set-Cookie") or [])


def test_a_foreign_host_name_is_refused(shop: dict[str, Any]) -> None:
    answer, _ = ask(shop, "/sign-in/", Host="elsewhere.example")
    assert answer.status == 400


def test_a_large_body_passes_whole_and_one_too_large_is_answered(shop: dict[str, Any]) -> None:
    port = urlsplit(shop["shop"]["address"]).port
    for size, status in ((5_000_000, 403), (400_000_000, 413)):  # without a token it is refused, but it was read
        raw = socket.create_connection(("127.0.0.1", port or 0), 30)
        line = trusting(shop).wrap_socket(raw, server_hostname="127.0.0.1")
        head = f"POST /in/ HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Type: text/plain\r\nContent-Length: {size}\r\n\r\n"
        line.sendall(head.encode())
        if size < 10_000_000:
            line.sendall(b"x" * size)
        told = line.recv(4000)
        assert told.split(b" ")[1] == str(status).encode(), told[:200]
        line.close()


def test_the_plain_door_gives_the_certificate_and_nothing_else(shop: dict[str, Any]) -> None:
    where = urlsplit(shop["shop"]["certificate"])

    def door(path: str, method: str = "GET") -> http.client.HTTPResponse:
        line = http.client.HTTPConnection("127.0.0.1", where.port or 0, timeout=30)
        line.request(method, path)
        return line.getresponse()

    page = door("/certificate/")
    text = page.read().decode()
    assert page.status == 200
    assert shop["shop"]["fingerprint"].replace(":", " ") in text
    assert "Without it" in text
    taken = door("/certificate/shop.crt").read()
    own = (shop["data"] / "certificate" / "authority.crt").read_text()
    assert taken == ssl.PEM_cert_to_DER_cert(own)
    for path, method in (("/", "GET"), ("/in/", "POST"), ("/sign-in/", "GET"), ("/certificate/", "POST")):
        answer = door(path, method)
        assert (answer.status, answer.headers["Location"]) == (303, "/certificate/"), path
    assert door("/static/../settings.py").status in (303, 404)


def test_a_half_spoken_request_holds_nobody_up(shop: dict[str, Any]) -> None:
    port = urlsplit(shop["shop"]["address"]).port
    idle = [socket.create_connection(("127.0.0.1", port or 0), 30) for _ in range(20)]
    assert ask(shop, "/sign-in/")[0].status == 200
    for each in idle:
        each.close()


@pytest.mark.parametrize("option", ["--tls-port", "--door-port"])
def test_a_taken_port_is_one_line(tmp_path: Path, option: str) -> None:
    with socket.socket() as taken:
        taken.bind(("", 0))
        taken.listen()
        port = taken.getsockname()[1]
        other = "--door-port" if option == "--tls-port" else "--tls-port"
        told = witnessmark(tmp_path, "serve", "--shop", "--port", "0", option, str(port), other, "0")
    assert told.returncode == 2
    assert told.stderr.startswith(f"Port {port} is taken;")
    assert told.stderr.count("\n") == 1
    assert option in told.stderr


def test_a_public_name_is_one_line(tmp_path: Path) -> None:
    told = witnessmark(tmp_path, "serve", "--shop", "--port", "0", "--name", "example.com")
    assert told.returncode == 2
    assert "can be reached from outside the shop" in told.stderr
    assert told.stderr.count("\n") == 1


def test_it_prints_the_steps_and_what_does_not_work_without(tmp_path: Path) -> None:
    with started(tmp_path, "serve", "--shop", "--port", "0", "--tls-port", "0", "--door-port", "0") as server:
        assert server.stdout is not None
        said = ""
        while "Without the certificate" not in said:
            line = server.stdout.readline()
            assert line
            said += line
    assert "Compare the fingerprint" in said
    assert "█" in said or "▀" in said or "▄" in said
