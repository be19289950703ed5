"""What went wrong is said in words: what it was, what was kept, what to do."""

import uuid

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def signed_in(shop: Shop, **more: bool) -> Client:
    client = Client(**more)
    client.force_login(shop.mechanic)
    return client


def test_an_unknown_address(shop: Shop) -> None:
    page = signed_in(shop).get("/nowhere/")
    assert page.status_code == 404
    assert "Look for it by its tag" in page.content.decode()


def test_a_page_open_too_long(shop: Shop) -> None:
    page = signed_in(shop, enforce_csrf_checks=True).post("/", {"key": "x"})
    assert page.status_code == 403
    text = page.content.decode()
    assert "open the page again" in text
    assert "Nothing was changed." in text


def test_a_fault_of_the_program(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr("witnessmark.web.bench.bench_today", broken)
    page = signed_in(shop, raise_request_exception=False).get("/")
    assert page.status_code == 500
    text = page.content.decode()
    assert "What was recorded before stands" in text
    assert "RuntimeError" not in text


def test_a_body_too_large_is_refused_before_it_is_read(shop: Shop) -> None:
    page = signed_in(shop).post(
        "/piece/0007/", b"x", content_type="application/octet-stream", headers={"content-length": "900000000"}
    )
    assert page.status_code == 413
    assert "60 MB" in page.content.decode()


def test_every_page_carries_the_policy(shop: Shop) -> None:
    for address in ("/sign-in/", "/aircraft/", "/nowhere/"):
        policy = signed_in(shop).get(address)["Content-Security-Policy"]
        assert "default-src 'none'" in policy or "default-src 'self'" in policy
        assert "unsafe" not in policy


@pytest.mark.parametrize(
    "address", ["/zone/%00/", "/piece/%00/", "/t/a%00b/", "/seam/%00/L/", "/find/?q=%00", "/outwork/%00/"]
)
def test_an_address_no_text_can_hold(shop: Shop, address: str) -> None:
    assert signed_in(shop).get(address).status_code == 400


def test_a_text_no_record_can_hold(shop: Shop) -> None:
    make_part(shop, "0007", shop.shelf)
    for said in ({"do": "finding", "what": "a\0b"}, {"do": "take_off", "shelf": "\0"}):
        page = signed_in(shop).post("/piece/0007/", {"act_id": str(uuid.uuid4()), **said})
        assert page.status_code == 422
        assert "Nothing was changed." in page.content.decode()
