"""Sign-in links: once, for a day, for people who work here (facts of the record)."""

import hashlib
import threading
from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from witnessmark.cli import sign_in
from witnessmark.cli.main import main
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.signing_in import make_link, use_link
from witnessmark.records.models import Person, Role, SignInLink


@pytest.fixture
def person(db) -> Person:
    return Person.objects.create(name="Ilva Tarn", role=Role.LEAD)


def test_a_link_signs_in_once(person) -> None:
    token = make_link(person)
    assert use_link(token) == person
    with pytest.raises(Refused, match="used before"):
        use_link(token)


def test_only_the_hash_is_kept(person) -> None:
    token = make_link(person)
    kept = SignInLink.objects.values().get()
    assert kept["token_sha256"] == hashlib.sha256(token.encode()).hexdigest()
    assert token not in str(kept)
    assert len(token) >= 43


def test_a_link_lasts_a_day(person) -> None:
    token = make_link(person)
    link = SignInLink.objects.get()
    assert link.expires_at - link.made_at == timedelta(hours=24)
    SignInLink.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    with pytest.raises(Refused, match="run out"):
        use_link(token)
    make_link(person)
    assert SignInLink.objects.count() == 1, "what ran out is swept away"


@pytest.mark.parametrize("token", ["", "nothing", "x" * 5000, "ü\x00'"])
def test_an_unknown_link_signs_nobody_in(person, token) -> None:
    make_link(person)
    with pytest.raises(Refused, match="not known"):
        use_link(token)


def test_who_left_gets_no_link_and_uses_none(person) -> None:
    token = make_link(person)
    Person.objects.update(is_active=False)
    person.refresh_from_db()
    with pytest.raises(Refused, match="no longer"):
        make_link(person)
    with pytest.raises(Refused, match="no longer"):
        use_link(token)


@pytest.mark.django_db(transaction=True)
def test_of_eight_at_once_one_gets_in() -> None:
    token = make_link(Person.objects.create(name="Ilva Tarn", role=Role.LEAD))
    ends: list[str] = []
    gate = threading.Barrier(8)

    def one() -> None:
        try:
            gate.wait()
            ends.append(use_link(token).name)
        except Refused:
            ends.append("refused")
        finally:
            connection.close()

    threads = [threading.Thread(target=one) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(ends) == ["Ilva Tarn"] + ["refused"] * 7


def test_the_command_prints_a_link_that_works(person, capsys) -> None:
    assert main(["sign-in", "ilva  TARN", "--port", "8123"]) == 0
    address = capsys.readouterr().out.strip()
    assert address.startswith("http://127.0.0.1:8123/in/")
    assert use_link(address.split("/in/")[1].strip("/")) == person


def test_the_command_names_who_is_near(person, capsys) -> None:
    assert main(["sign-in", "Ilwa Tarn"]) == 1
    assert "Near it: Ilva Tarn." in capsys.readouterr().err
    assert SignInLink.objects.count() == 0


def test_names_near_a_word() -> None:
    many = [f"Person {n}" for n in range(20)] + ["Jorun Vell"]
    assert sign_in._near("jorun", many) == ["Jorun Vell"]
    assert sign_in._near("zzz", many) == []
    assert sign_in._near("zzz", ["A", "B"]) == ["A", "B"]
