"""Tags read from a picture: every code in it that names a tag of this shop."""

import os
import re
from collections.abc import Callable
from urllib.parse import unquote, urlsplit

from django.conf import settings

from witnessmark.calc.tags.code import tag_of
from witnessmark.records.photo_store import grey_of

_PATH = re.compile(r"/t/([^/]+)/?")


def our_hosts() -> frozenset[str]:
    """Name the machines whose addresses open tags of this shop: the same path elsewhere is somebody else's."""
    base = urlsplit(os.environ.get("WITNESSMARK_URL", "")).hostname
    return frozenset(host.strip("[]") for host in (*settings.ALLOWED_HOSTS, base or "") if host)


def tags_in(picture: bytes, at_least_px: int = 0) -> tuple[str, ...]:
    """Give the tags whose codes can be read, each once, from left to right; other codes are passed over.

    `at_least_px` reads a JPEG smaller, which is quicker and misses tags that are small in it.
    """
    from witnessmark.calc.tags.reading import read_tags

    return tuple(read.tag for read in read_tags(grey_of(picture, at_least_px), tag_namer()))


def tag_namer() -> Callable[[str], str | None]:
    """Give what names a tag by a code's text: its own words, or an address of this shop."""
    hosts = our_hosts()
    return lambda text: tag_of(text) or _of_address(text, hosts)


def _of_address(text: str, hosts: frozenset[str]) -> str | None:
    try:
        parts = urlsplit(text.strip())
        path = _PATH.fullmatch(parts.path)
        if path and parts.scheme in ("http", "https") and parts.hostname in hosts:
            return unquote(path[1])
    except ValueError:
        pass
    return None
