"""Signing in by a link that works once, and what a stranger sees."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from tests.records.shop import Shop, make_shop
from witnessmark.records.actions.signing_in import make_link
from witnessmark.records.models import SignInLink

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_a_link_signs_its_person_in(shop: Shop) -> None:
    client = Client()
    page = client.post(f"/in/{make_link(shop.mechanic)}/")
    assert page.status_code == 302
    assert f"You are {shop.mechanic.name}, mechanic." in client.get("/aircraft/").content.decode()


def test_looking_at_a_link_does_not_use_it_up(shop: Shop) -> None:
    token = make_link(shop.mechanic)
    looked = Client().get(f"/in/{token}/")
    Client().head(f"/in/{token}/")
    assert looked.status_code == 200
    assert "Sign in as Mechanic." in looked.content.decode()
    assert SignInLink.objects.get().used_at is None
    assert Client().post(f"/in/{token}/").status_code == 302


def test_a_link_works_once(shop: Shop) -> None:
    token = make_link(shop.mechanic)
    Client().post(f"/in/{token}/")
    second = Client()
    page = second.post(f"/in/{token}/")
    assert page.status_code == 403
    assert "does not open" in page.content.decode()
    assert second.get("/aircraft/").status_code == 302


def test_a_link_runs_out(shop: Shop) -> None:
    token = make_link(shop.mechanic)
    SignInLink.objects.update(expires_at=timezone.now() - timedelta(minutes=1))
    assert Client().post(f"/in/{token}/").status_code == 403


def test_a_link_that_was_used_says_so_when_opened_again(shop: Shop) -> None:
    token = make_link(shop.mechanic)
    Client().post(f"/in/{token}/")
    page = Client().get(f"/in/{token}/")
    assert page.status_code == 403
    assert "./witnessmark sign-in NAME" in page.content.decode()


def test_an_invented_link_opens_nothing() -> None:
    client = Client()
    assert client.post("/in/abcdefgh/").status_code == 403
    assert client.get("/").status_code == 302


@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/aircraft/",
        "/zone/100/",
        "/piece/0007/",
        "/t/0007/",
        "/find/?q=a",
        "/seams/",
        "/outwork/",
        "/orders/",
        "/plan/",
        "/papers/",
        "/papers/tags.pdf",
        "/photo/0/320/",
    ],
)
def test_a_stranger_is_asked_who_he_is(shop: Shop, address: str) -> None:
    page = Client().get(address)
    assert page.status_code == 302
    assert page["Location"].startswith("/sign-in/")


def test_the_sign_in_page_says_how_to_come_in() -> None:
    text = Client().get("/sign-in/").content.decode()
    assert "./witnessmark sign-in NAME" in text
    assert "password" in text


def test_signing_out_is_a_word_pressed(shop: Shop) -> None:
    client = Client()
    client.force_login(shop.mechanic)
    assert client.get("/sign-out/").status_code == 405
    client.post("/sign-out/")
    assert client.get("/aircraft/").status_code == 302


def test_whoever_is_signed_in_is_not_told_that_he_needs_a_link(shop: Shop) -> None:
    client = Client()
    assert "You need a link" in client.get("/sign-in/").content.decode()
    client.force_login(shop.mechanic)
    text = client.get("/sign-in/").content.decode()
    assert "You are signed in as Mechanic." in text and "You need a link" not in text
