"""Signing in: a link that works once, for one day. Only the hash of its token is kept."""

import hashlib
import secrets
from datetime import timedelta

from django.utils import timezone

from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Person, SignInLink

LASTS = timedelta(hours=24)


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def make_link(person: Person) -> str:
    """Make a token that signs this person in once within a day; it is told here and nowhere else."""
    if not person.is_active:
        raise Refused(f"{person.name} works here no longer. No link was made.")
    token, now = secrets.token_urlsafe(32), timezone.now()
    SignInLink.objects.filter(expires_at__lt=now).delete()
    SignInLink.objects.create(person=person, token_sha256=_sha256(token), made_at=now, expires_at=now + LASTS)
    return token


def whose(token: str) -> Person | None:
    """Give the person whom this link would sign in, without using it up; None for one that opens nothing."""
    link = (
        SignInLink.objects.filter(
            token_sha256=_sha256(token), used_at__isnull=True, expires_at__gt=timezone.now(), person__is_active=True
        )
        .select_related("person")
        .first()
    )
    return link.person if link else None


def use_link(token: str) -> Person:
    """Use a token up and give its person.

    Raises Refused for one that is unknown, used or run out. Of two who use it in the same moment one gets in.
    """
    now = timezone.now()
    links = SignInLink.objects.filter(token_sha256=_sha256(token))
    # The condition stands in the update itself, so that the database lets one through and not both.
    # A join would move it into a subquery, which PostgreSQL does not look at again after waiting for the other one.
    link = links.select_related("person").first()
    took = (
        link is not None
        and link.person.is_active
        and links.filter(used_at__isnull=True, expires_at__gt=now).update(used_at=now)
    )
    if link is not None and not took:
        link.refresh_from_db()
    if took and link is not None:
        return link.person
    again = "Ask the lead for a new one, or make one with `witnessmark sign-in NAME`."
    if link is None:
        raise Refused(f"This link is not known here. Nobody was signed in. {again}")
    if link.used_at is not None:
        raise Refused(f"This link was used before; each works once. Nobody was signed in. {again}")
    if link.expires_at <= now:
        raise Refused(f"This link has run out; each lasts a day. Nobody was signed in. {again}")
    raise Refused(f"{link.person.name} works here no longer. Nobody was signed in.")
