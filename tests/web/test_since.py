"""Since the last time on the screen: ticks, the look before it goes, the link; and what a stranger is and is not told."""

import io
import re
import uuid
import zipfile
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from tests.records.shop import make_part, make_shop
from tests.support.pages import client, words
from tests.support.told import IN_METADATA, SECRETS, Told, filled
from witnessmark.records.actions.copies import end_copy
from witnessmark.records.models import CopyOpened, Person, SentCopy
from witnessmark.records.models.people import Role

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA = tmp_path


@pytest.fixture
def shop() -> Told:
    return filled()


def form(page: Any, *, only: tuple[str, ...] = ()) -> dict[str, Any]:
    """What the browser sends of the ticked form as it was drawn."""
    text = page.content.decode()
    sent: dict[str, Any] = {}
    for tag in re.findall(r"<input[^>]+>", text):
        name, value = re.search(r'name="(\w+)"', tag), re.search(r'value="([^"]*)"', tag)
        if name is None or value is None or name[1] in ("csrfmiddlewaretoken", "q", "copy"):
            continue
        if 'type="hidden"' in tag or ("checked" in tag and 'type="checkbox"' in tag):
            sent.setdefault(name[1], []).append(value[1])
    return sent


def offered(page: Any, name: str) -> list[str]:
    return re.findall(rf'<input type="checkbox" name="{name}" value="([^"]*)"', page.content.decode())


def link_of(page: Any) -> str:
    found = re.search(r'value="http://testserver(/copy/[^"]+/)"', page.content.decode())
    assert found is not None
    return found[1]


def make_public(shop: Told, **more: Any) -> str:
    """Tick every line and picture for the public, look, and make it; give the link."""
    lead = client(shop.shop.lead)
    drawn = lead.get("/since/?for=public")
    ticked = {**form(drawn), "lines": offered(drawn, "lines"), "pictures": offered(drawn, "pictures"), "do": "look"}
    looked = lead.post("/since/", {**ticked, **more})
    made = lead.post("/since/", {**form(looked), "days": "30", "do": "make", **({"knowing": "yes"} if more else {})})
    assert made.status_code == 200, words(made)
    return link_of(made)


def test_it_opens_on_the_owner_with_his_pictures_ticked_and_on_the_public_with_none(shop: Told) -> None:
    lead = client(shop.shop.lead)
    owner = lead.get("/since/")
    assert re.search(r"Since .*things? came back", words(owner))
    assert len(form(owner)["pictures"]) == 2
    public = lead.get("/since/?for=public")
    sent = form(public)
    assert "pictures" not in sent
    assert "words" not in sent
    assert "shown" not in sent
    assert len(offered(public, "pictures")) == 2
    assert "none is ticked now" in words(public)
    assert "money" not in offered(public, "lines")


def test_a_public_link_tells_a_stranger_nothing_that_was_not_ticked(shop: Told) -> None:
    link = make_public(shop)
    stranger = Client()
    page = stranger.get(link)
    assert page.status_code == 200
    texts = [page.content.decode(), *map(str, page.headers.values())]
    pictures = re.findall(r'<img src="([^"]+)"', page.content.decode())
    assert len(pictures) == 2
    for address in pictures:
        picture = stranger.get(address)
        assert picture["Content-Type"] == "image/jpeg"
        assert picture.content[:2] == b"\xff\xd8"
        texts += [address, picture.content.decode("latin-1"), *map(str, picture.headers.values())]
    paper = stranger.get(f"{link}pdf/")
    texts += [each.extract_text() for each in PdfReader(io.BytesIO(paper.content)).pages]
    packed = stranger.get(f"{link}pictures/")
    with zipfile.ZipFile(io.BytesIO(packed.content)) as read:
        assert len(read.namelist()) == 4
        texts += [*read.namelist(), *(read.read(name).decode("latin-1") for name in read.namelist())]
    texts += [*map(str, paper.headers.values()), *map(str, packed.headers.values())]
    told = " ".join(" ".join(texts).split()).casefold()
    for secret in (*(one for some in SECRETS.values() for one in some), *IN_METADATA, "Zebulon", "Brandt"):
        assert secret.casefold() not in told, secret
    assert "for the public" in told  # the paper was read, not an empty one


def test_a_copy_is_kept_from_search_engines_other_sites_and_caches(shop: Told) -> None:
    link = make_public(shop)
    addresses = [link, f"{link}pdf/", f"{link}pictures/", f"{link}picture/0/", "/copy/never/"]
    for address in addresses:
        page = Client().get(address)
        assert "noindex" in page["X-Robots-Tag"], address
        assert page["Referrer-Policy"] == "no-referrer", address
        assert page["Cache-Control"] == "no-store", address
        assert "script-src 'self'" in page["Content-Security-Policy"]
    assert '<meta name="robots" content="noindex' in Client().get(link).content.decode()


def test_over_ended_and_never_made_are_one_answer(shop: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    link, ended = make_public(shop), make_public(shop)
    end_copy(by=shop.shop.lead, act_id=uuid.uuid4(), copy=SentCopy.objects.order_by("-pk")[0])
    never = "/copy/" + "A" * 43 + "/"

    def seen(address: str) -> tuple[int, bytes, list[tuple[str, str]]]:
        page = Client().get(address)
        return page.status_code, page.content, sorted(page.headers.items())

    nothing = seen(never)
    assert nothing[0] == 404
    assert b"This link is over." in nothing[1]
    assert seen(ended) == nothing
    assert seen(link)[0] == 200
    last = SentCopy.objects.order_by("pk")[0].expires_at
    for late in (last, last + timedelta(minutes=1)):
        monkeypatch.setattr("witnessmark.records.lookups.copies.timezone.now", lambda late=late: late)
        assert seen(link) == nothing
        for tail in ("pdf/", "pictures/", "picture/0/"):
            assert seen(link + tail) == nothing
    monkeypatch.setattr("witnessmark.records.lookups.copies.timezone.now", lambda: last - timedelta(minutes=1))
    assert seen(link)[0] == 200


def test_a_link_gives_its_own_pictures_and_no_others(shop: Told) -> None:
    link = make_public(shop)
    assert Client().get(f"{link}picture/1/").status_code == 200
    assert Client().get(f"{link}picture/2/").status_code == 404
    assert Client().get(f"{link}picture/99999999999999999999/").status_code == 404
    other = f"/photo/{shop.photos[0]}/800/"
    assert Client().get(other).status_code == 302  # the shop's own pictures ask who it is


def test_openings_by_strangers_are_counted_and_the_shops_own_are_not(shop: Told) -> None:
    link = make_public(shop)
    client(shop.shop.lead).get(link)
    Client().head(link)
    assert not CopyOpened.objects.exists()
    Client().get(link)
    Client().get(link)
    Client().get(f"{link}pdf/")
    assert CopyOpened.objects.get().count == 2
    assert "Opened 2 times" in words(client(shop.shop.lead).get("/since/"))


def test_whoever_is_signed_in_reads_the_same_page_as_a_stranger(shop: Told) -> None:
    link = make_public(shop)
    assert client(shop.shop.lead).get(link).content == Client().get(link).content


def test_words_that_hold_a_name_are_shown_before_they_go_and_held_back(shop: Told) -> None:
    lead = client(shop.shop.lead)
    drawn = lead.get("/since/?for=public")
    ticked = {**form(drawn), "words": offered(drawn, "words"), "do": "look"}
    looked = lead.post("/since/", ticked)
    assert "would say more than you ticked" in words(looked)
    assert "“zebulon” (a person’s name)" in words(looked)
    assert "“4711.50 eur” (a price)" in words(looked)
    refused = lead.post("/since/", {**form(looked), "days": "30", "do": "make"})
    assert refused.status_code == 422
    assert "No copy was made" in words(refused)
    assert SentCopy.objects.count() == 0
    assert form(refused)["words"] == form(looked)["words"]  # the ticks are kept
    made = lead.post("/since/", {**form(refused), "days": "30", "do": "make", "knowing": "yes"})
    assert "Zebulon" in words(Client().get(link_of(made)))


def test_ticks_are_kept_when_one_goes_back_to_change_them(shop: Told) -> None:
    lead = client(shop.shop.lead)
    drawn = lead.get("/since/?for=public")
    sent = {**form(drawn), "pictures": [shop.photos[1]], "shown": ["mark"], "do": "look"}
    looked = lead.post("/since/", sent)
    back = form(lead.post("/since/", {**form(looked), "do": "change"}))
    assert back["pictures"] == [shop.photos[1]]
    assert back["shown"] == ["mark"]
    assert sorted(back["lines"]) == sorted(sent["lines"])


def test_the_owners_copy_says_hours_money_and_decisions_with_their_links(shop: Told) -> None:
    lead = client(shop.shop.lead)
    looked = lead.post("/since/", {**form(lead.get("/since/")), "do": "look"})
    link = link_of(lead.post("/since/", {**form(looked), "days": "7", "do": "make"}))
    page = Client().get(link)
    told = words(page)
    assert "7.25 h were booked" in told
    assert "4,711.50 EUR" in told
    assert "FNDQ-5" in told
    assert f'<a href="/decide/{shop.piece.key}/">Decide</a>' in page.content.decode()
    assert Client().get(f"/decide/{shop.piece.key}/").status_code == 302  # the sheet itself asks who it is


def test_the_lead_ends_a_link_on_the_screen(shop: Told) -> None:
    link = make_public(shop)
    copy = SentCopy.objects.get()
    lead = client(shop.shop.lead)
    assert "End the link" in words(lead.get("/since/"))
    lead.post("/since/", {"do": "end", "copy": copy.pk, "act_id": uuid.uuid4()})
    assert Client().get(link).status_code == 404
    assert "The link was ended by Lead" in words(lead.get("/since/"))
    again = lead.post("/since/", {"do": "end", "copy": copy.pk, "act_id": uuid.uuid4()})
    assert again.status_code == 422


def test_others_may_look_and_not_send(shop: Told) -> None:
    mechanic = client(shop.shop.mechanic)
    drawn = mechanic.get("/since/")
    looked = mechanic.post("/since/", {**form(drawn), "do": "look"})
    assert looked.status_code == 200
    assert "The lead mechanic makes the copy" in words(looked)
    sent = {**form(looked), "days": "30", "do": "make"}
    assert mechanic.post("/since/", sent).status_code == 403
    assert client(shop.shop.owner).post("/since/", sent).status_code == 403
    craftsman = Person.objects.create(name="Outside", role=Role.CRAFTSMAN)
    assert client(craftsman).get("/since/").status_code == 403
    assert Client().get("/since/").status_code == 302
    assert Client().get("/since/copy/1/").status_code == 302
    assert SentCopy.objects.count() == 0


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("?from=2999-01-01", "lies ahead: today is"),
        ("?from=yesterday", "is no day"),
        ("?for=everybody", "not for 'everybody'"),
    ],
)
def test_a_day_or_reader_that_cannot_be_is_said_on_the_screen(shop: Told, asked: str, said: str) -> None:
    page = client(shop.shop.lead).get(f"/since/{asked}")
    assert page.status_code == 422
    assert said in words(page)


@pytest.mark.parametrize(
    "sent",
    [
        {"do": "make"},
        {"do": "make", "for": "owner", "days": "30"},
        {"do": "make", "for": "owner", "days": "0", "act_id": str(uuid.uuid4()), "lines": ["waits"]},
        {"do": "make", "for": "owner", "days": "thirty", "act_id": str(uuid.uuid4()), "lines": ["waits"]},
        {"do": "make", "for": "public", "days": "30", "act_id": str(uuid.uuid4()), "pictures": ["../../etc/passwd"]},
        {"do": "make", "for": "public", "days": "30", "act_id": str(uuid.uuid4()), "lines": ["money"]},
        {"do": "look", "for": "owner", "from": "2999-01-01"},
        {"do": "end", "copy": "9999"},
        {"do": "end", "copy": "²"},
        {"do": "send"},
        {},
    ],
)
def test_a_form_that_cannot_be_is_refused_and_nothing_is_made(shop: Told, sent: dict[str, Any]) -> None:
    page = client(shop.shop.lead).post("/since/", sent)
    assert page.status_code == 422
    assert re.search(r"No copy was made|Nothing was (made|changed)", words(page))
    assert SentCopy.objects.count() == 0


def test_where_nothing_happened_or_nothing_is_on_record_it_says_so() -> None:
    shop = make_shop()
    make_part(shop, "0118", shop.shelf)
    told = words(client(shop.lead).get("/since/?for=public"))
    assert "Nothing is on record since" in told
    assert "No picture was taken in these days." in told
    assert "No copy was given yet." in told


def test_an_empty_record_says_that_there_is_nothing_to_tell() -> None:
    lead = Person.objects.create(name="Lead", role=Role.LEAD)
    assert "nothing to tell of" in words(client(lead).get("/since/"))


def test_an_earlier_day_tells_more(shop: Told) -> None:
    lead = client(shop.shop.lead)
    early: date = timezone.localdate() - timedelta(days=2)
    few = len(offered(lead.get(f"/since/?from={early}"), "lines"))
    assert len(offered(lead.get(f"/since/?from={early - timedelta(days=30)}"), "lines")) > few


def test_a_kept_copy_is_seen_and_printed_in_the_shop(shop: Told) -> None:
    make_public(shop)
    copy = SentCopy.objects.get()
    mechanic = client(shop.shop.mechanic)
    assert "This is what the public was sent." in words(mechanic.get(f"/since/copy/{copy.pk}/"))
    assert mechanic.get(f"/since/copy/{copy.pk}/pdf/").content.startswith(b"%PDF")
    assert mechanic.get(f"/since/copy/{copy.pk}/pictures/")["Content-Type"] == "application/zip"
    assert mechanic.get("/since/copy/999/").status_code == 404
