"""Whatever is typed into any form, or sent in its place: no fault of the program, and a refusal stores nothing."""

import uuid
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.support.pages import client
from tests.web.test_nothing_typed_is_lost import ADDRESSES, Form, Forms, the_shop
from witnessmark.records.models import Act, Person

pytestmark = pytest.mark.django_db

ODD = ["", " ", "\0", "0", "-1", "1e309", "nan", "٣", "²", "9" * 25, "2026-02-30", "31 June", "<script>", '"', "'; --", "12,5", "½", "\ud7ff"]  # fmt: skip
TEXT = st.text(max_size=24) | st.sampled_from(ODD) | st.binary(max_size=12).map(lambda raw: raw.decode("latin-1"))


def forms_of(browser: Client) -> list[tuple[str, Form]]:
    found = []
    for address in ADDRESSES:
        for form in Forms(browser.get(address).content.decode()).found:
            if form.places or form.chosen:
                found.append((form.action.partition("#")[0] or address, form))
    return found


def test_any_words_in_any_form() -> None:
    shop = the_shop()
    browsers = [client(person) for person in (shop.lead, shop.mechanic, shop.owner)]
    forms = forms_of(browsers[0])
    assert len(forms) > 40

    @settings(max_examples=60, suppress_health_check=list(HealthCheck))
    @given(st.data())
    def holds(data: st.DataObject) -> None:
        address, form = data.draw(st.sampled_from(forms))
        sent: dict[str, Any] = dict(form.hidden)
        for name, _ in form.places:
            sent[name] = data.draw(TEXT)
        for _, name, value, _ in form.chosen:
            sent[name] = data.draw(st.just(value) | TEXT)
        if form.pressed:
            name, value = data.draw(st.sampled_from(form.pressed))
            sent[name] = data.draw(st.just(value) | TEXT)
        sent["act_id"] = data.draw(st.just(str(uuid.uuid4())) | TEXT)
        with transaction.atomic():
            acts, people = Act.objects.count(), Person.objects.count()
            answer = data.draw(st.sampled_from(browsers)).post(address, sent)
            assert answer.status_code in (200, 302, 403, 404, 409, 422), (address, sent)
            if answer.status_code >= 400:
                assert (Act.objects.count(), Person.objects.count()) == (acts, people)
                assert (
                    b"Nothing was" in answer.content
                    or answer.status_code != 422
                    or b"No copy was made" in answer.content
                )
            transaction.set_rollback(True)

    holds()


def test_bytes_that_are_no_form() -> None:
    shop = the_shop()
    browser = client(shop.lead)
    kinds = [
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "application/json",
        "text/plain",
        "",
    ]

    @settings(max_examples=30, suppress_health_check=list(HealthCheck))
    @given(st.sampled_from(ADDRESSES), st.binary(max_size=60), st.sampled_from(kinds))
    def holds(address: str, raw: bytes, kind: str) -> None:
        with transaction.atomic():
            acts = Act.objects.count()
            answer = browser.generic("POST", address, raw, content_type=kind)
            assert answer.status_code in (200, 302, 400, 403, 404, 405, 422), address
            assert Act.objects.count() == acts
            transaction.set_rollback(True)

    holds()
