"""Tags read from a picture: every code in it that names a tag of this shop."""

import os
from urllib.parse import urlsplit

from django.conf import settings

from witnessmark.records.photo_store import grey_of


def our_hosts() -> frozenset[str]:
    """Name the machines whose addresses open tags of this shop: the same path elsewhere is somebody else's."""
    base = urlsplit(os.environ.get("WITNESSMARK_URL", "")).hostname
    return frozenset(host.strip("[]") for host in (*settings.ALLOWED_HOSTS, base or "") if host)


def tags_in(picture: bytes) -> tuple[str, ...]:
    """Give the tags whose codes can be read, each once, from left to right; other codes are passed over."""
    from witnessmark.calc.tags.reading import read_tags

    return tuple(read.tag for read in read_tags(grey_of(picture), our_hosts()))
