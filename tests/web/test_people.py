"""The first name in an empty record, and letting others in: it works, then every refusal."""

import re
import threading
import uuid

import pytest
from django.db import connection
from django.test import Client

from tests.records.shop import Shop, make_shop
from witnessmark.records.actions.people import begin, beginning_token, let_in
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.models import Act, Aircraft, Person, Piece, Role


@pytest.fixture
def link() -> str:
    return f"/begin/{beginning_token()}/"


@pytest.mark.django_db
def test_a_name_alone_begins_an_empty_record(link: str) -> None:
    client = Client()
    assert "Your name" in client.get(link).content.decode()
    page = client.post(link, {"name": "  Ines   Varga "}, follow=True)
    assert "You are Ines Varga, lead mechanic." in page.content.decode()
    lead = Person.objects.get()
    assert (lead.name, lead.role) == ("Ines Varga", Role.LEAD)
    assert Act.objects.get().verb == "begin_record"
    assert not Aircraft.objects.exists()
    assert not Piece.objects.exists()


@pytest.mark.django_db
def test_only_the_first_one_begins_it(link: str) -> None:
    begin(name="First")
    stranger = Client()
    assert stranger.get(link)["Location"] == "/sign-in/"
    assert stranger.post(link, {"name": "Second"})["Location"] == "/sign-in/"
    assert stranger.get("/").status_code == 302
    with pytest.raises(Refused, match="begun already"):
        begin(name="Second")
    assert [p.name for p in Person.objects.all()] == ["First"]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_begin_in_the_same_moment_one_leads() -> None:
    told: list[str] = []
    ready = threading.Barrier(4)

    def one(name: str) -> None:
        ready.wait()
        try:
            told.append(begin(name=name).name)
        except Refused:
            told.append("refused")
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=(f"Person {n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told)[1:] == ["refused"] * 3
    assert Person.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["", "   ", "\u200b\u202e", "--", "x" * 121])
def test_what_is_no_name_is_refused_and_what_was_typed_stays(link: str, name: str) -> None:
    page = Client().post(link, {"name": name})
    assert page.status_code == 422
    assert "Nothing was changed." in page.content.decode()
    assert not Person.objects.exists()


@pytest.mark.django_db
def test_without_the_printed_link_nobody_begins_it() -> None:
    client = Client()
    assert client.post(f"/begin/{'0' * 32}/", {"name": "Stranger"}).status_code == 404
    assert not Person.objects.exists()
    page = client.get("/", follow=True).content.decode()
    assert "Nobody is in this record yet." in page
    assert beginning_token() not in page


@pytest.mark.django_db
class TestLettingIn:
    @pytest.fixture
    def shop(self) -> Shop:
        return make_shop()

    @pytest.fixture
    def lead(self, shop: Shop) -> Client:
        client = Client()
        client.force_login(shop.lead)
        return client

    def test_the_lead_lets_somebody_in_by_a_link_and_its_code(self, lead: Client) -> None:
        assert "Let someone in." in lead.get("/people/").content.decode()
        page = lead.post(
            "/people/", {"act_id": str(uuid.uuid4()), "name": "Tomas", "role": "mechanic"}
        ).content.decode()
        found = re.search(r"http://testserver(/in/[\w-]{43}/)", page)
        assert found
        assert re.search(r'<svg viewBox="0 0 (\d+) \1"', page)
        phone = Client()
        phone.post(found[1])
        assert "You are Tomas, mechanic." in phone.get("/aircraft/").content.decode()

    def test_a_lost_link_is_made_anew_for_the_same_person(self, lead: Client, shop: Shop) -> None:
        for _ in range(2):
            page = lead.post("/people/", {"act_id": str(uuid.uuid4()), "name": "mechanic", "role": "mechanic"})
            assert "Show Mechanic this code." in page.content.decode()
        assert Person.objects.filter(name__iexact="mechanic").count() == 1

    @pytest.mark.parametrize(("name", "role"), [("", "mechanic"), ("X", "craftsman"), ("X", ""), ("Mechanic", "lead")])
    def test_refusals_say_why(self, lead: Client, name: str, role: str) -> None:
        before = Person.objects.count()
        page = lead.post("/people/", {"act_id": str(uuid.uuid4()), "name": name, "role": role})
        assert page.status_code == 422
        assert 'role="alert"' in page.content.decode()
        assert Person.objects.count() == before

    def test_nobody_else_lets_people_in(self, shop: Shop) -> None:
        for person in (shop.mechanic, shop.owner):
            client = Client()
            client.force_login(person)
            assert client.get("/people/").status_code == 403
            said = {"act_id": str(uuid.uuid4()), "name": "X", "role": "lead"}
            assert client.post("/people/", said).status_code == 403
            with pytest.raises(NotAllowed):
                let_in(by=person, act_id=uuid.uuid4(), name="X", role="lead")
        assert Client().get("/people/").status_code == 302
        assert not Person.objects.filter(name="X").exists()
