"""Lists on disk as they came, named by the SHA-256 of their bytes: whatever is read out of one, the file stays."""

import hashlib
from pathlib import Path

from django.conf import settings

from witnessmark.records.actions.saying import Refused
from witnessmark.records.photo_store import write_whole

MOST_BYTES = 50_000_000


def list_path(sha256: str) -> Path:
    """Say where the bytes as received lie."""
    return Path(settings.DATA) / "lists" / sha256[:2] / sha256


def keep_list(data: bytes, name: str) -> str:
    """Keep a list as it came; give its name on disk.

    Raises Refused for an empty file, or one that is larger than any list.
    """
    if not data:
        raise Refused(f"{name} is empty. There is nothing to keep. Save the list anew, then choose it again.")
    if len(data) > MOST_BYTES:
        raise Refused(
            f"{name} has {len(data) / 1e6:.0f} MB; at most {MOST_BYTES // 1_000_000} MB are read. It was not kept. Split it, or take the pictures out of it."
        )
    sha256 = hashlib.sha256(data).hexdigest()
    path = list_path(sha256)
    if not path.exists():
        write_whole(path, data)
    return sha256
