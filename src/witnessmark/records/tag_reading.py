"""Tags read from a picture: every code in it that names a tag of this shop."""

import os
import re
from urllib.parse import unquote, urlsplit

from django.conf import settings

from witnessmark.records.photo_store import grey_of

_OF_A_TAG = re.compile(r"WM:([^/?#:]+)")
_PATH = re.compile(r"/t/([^/]+)/?")


def our_hosts() -> frozenset[str]:
    """Name the machines whose addresses open tags of this shop: the same path elsewhere is somebody else's."""
    base = urlsplit(os.environ.get("WITNESSMARK_URL", "")).hostname
    return frozenset(host.strip("[]") for host in (*settings.ALLOWED_HOSTS, base or "") if host)


def tags_in(picture: bytes) -> tuple[str, ...]:
    """Give the tags whose codes can be read, each once, in the order of the picture; other codes are passed over."""
    import zxingcpp

    hosts = our_hosts()
    found: dict[str, None] = {}
    for code in zxingcpp.read_barcodes(grey_of(picture)):
        tag = _tag_of(code.text.strip(), hosts)
        if tag:
            found.setdefault(tag, None)
    return tuple(found)


def _tag_of(text: str, hosts: frozenset[str]) -> str | None:
    plain = _OF_A_TAG.fullmatch(text)
    if plain:
        return plain[1]
    try:
        parts = urlsplit(text)
        path = _PATH.fullmatch(parts.path)
        if path and parts.scheme in ("http", "https") and parts.hostname in hosts:
            return unquote(path[1])
    except ValueError:
        pass
    return None
