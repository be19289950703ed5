"""The shop's people: the first one begins an empty record with a name alone, the lead lets in everyone after."""

import unicodedata
import uuid
from collections.abc import Iterable

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.crypto import constant_time_compare, salted_hmac

from witnessmark.records.actions.saying import NotAllowed, Refused, Result, say
from witnessmark.records.models import Act, Person, Role

# One act begins a record, so its number is fixed: of two who begin in the same moment the database lets one through.
BEGINNING = uuid.UUID("6d0a5c52-6f0e-5b0f-9a53-0d6f5a3b9c01")
MAY_COME_IN = (Role.LEAD, Role.MECHANIC, Role.INSPECTOR, Role.OWNER)


def is_unbegun() -> bool:
    """Say whether nobody is in the record yet, so that the first one may begin it."""
    return not Person.objects.exists()


def beginning_token() -> str:
    """Give the word in the link that begins this record: it follows from the installation's own key, and is kept nowhere."""
    return salted_hmac("witnessmark.beginning", settings.SECRET_KEY, algorithm="sha256").hexdigest()[:32]


def opens_beginning(token: str) -> bool:
    """Say whether this is the word of the link that `serve` printed."""
    return constant_time_compare(token, beginning_token())


def begin(*, name: str) -> Person:
    """Begin an empty record: the one who opens the printed link and says his name leads the shop.

    Raises Refused when somebody is in the record already, or the name is none.
    """
    name = whole_name(name)
    try:
        with transaction.atomic():
            if not is_unbegun():
                raise Refused(_BEGUN)
            lead = Person.objects.create(name=name, role=Role.LEAD)
            say("begin_record", by=lead, act_id=BEGINNING, said={"name": name}, do=lambda act: {"person": lead.pk})
    except IntegrityError as error:
        raise Refused(_BEGUN) from error
    return lead


def let_in(*, by: Person, act_id: uuid.UUID, name: str, role: str) -> Result:
    """Take a person into the shop's record, or give the one of that name and role who is in it."""
    name = whole_name(name)
    _only_the_lead(by)
    if role not in MAY_COME_IN:
        raise Refused("Say what the person is here: lead, mechanic, inspector or owner. Nobody was let in.")

    def do(act: Act) -> Result:
        known = Person.objects.filter(name__iexact=name).first()
        if known is not None and (known.role != role or not known.is_active):
            raise Refused(f"{known.name} is in the record already, {_standing(known)}. Nothing was changed.")
        person = known or Person.objects.create(name=name, role=role)
        return {"person": person.pk, "name": person.name, "new": known is None}

    return say("let_in", by=by, act_id=act_id, said={"name": name, "role": role}, do=do, roles=(Role.LEAD,))


def people() -> Iterable[Person]:
    """Give those who can come in, in the order in which they came."""
    return Person.objects.filter(role__in=MAY_COME_IN, is_active=True).order_by("pk")


def whole_name(name: str) -> str:
    """Give a name as it is written: single spaces, nothing that cannot be seen."""
    seen = " ".join("".join(c for c in name if c.isspace() or unicodedata.category(c)[0] != "C").split())
    if not any(c.isalnum() for c in seen):
        raise Refused("A name is needed: what people in the shop call you. Nothing was changed.")
    if len(seen) > 120:
        raise Refused("A name has at most 120 letters. Nothing was changed. Write it shorter.")
    return seen


def _only_the_lead(by: Person) -> None:
    if by.role != Role.LEAD:
        raise NotAllowed(f"{by.name} does not let people in; the lead mechanic does. Nothing was changed.")


def _standing(person: Person) -> str:
    return person.get_role_display().lower() if person.is_active else "and works here no longer"


_BEGUN = "This record was begun already. Nothing was changed. Ask the lead mechanic to let you in."
