"""A browser of somebody who is signed in, and what a page says without its marks."""

import html
import re
from typing import Any

from django.test import Client

from witnessmark.records.models import Person


def client(person: Person) -> Client:
    """Sign this person in."""
    made = Client()
    made.force_login(person)
    return made


def words(page: Any) -> str:
    """The page's words as they are read: no tags, one blank between words."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", "", page.content.decode())))
