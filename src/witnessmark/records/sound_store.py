"""Spoken notes on disk: kept the way pictures are, told by their first bytes and not by their names."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from witnessmark.records.actions.saying import Refused
from witnessmark.records.photo_store import write_whole

MOST_BYTES = 10_000_000


class NotASound(Refused, ValueError):
    """These bytes are no sound that can be kept; the message says why."""


@dataclass(frozen=True)
class Sound:
    """A sound that is on the disk."""

    sha256: str
    bytes: int
    type: str


def sound_path(sha256: str) -> Path:
    """Say where the bytes as received lie."""
    return Path(settings.DATA) / "sounds" / sha256[:2] / sha256


def sound_type(data: bytes) -> str | None:
    """Tell what a sound is by its first bytes; None where it is none that a phone makes and a browser plays."""
    if data[:4] == b"\x1a\x45\xdf\xa3":
        return "audio/webm"
    if data[:4] == b"OggS":
        return "audio/ogg"
    if data[4:8] == b"ftyp":  # the same box begins pictures and films: these are the brands that sound comes in
        return "audio/mp4" if data[8:12] in (b"M4A ", b"isom", b"iso5", b"iso6", b"mp41", b"mp42", b"3gp4") else None
    if data[:4] == b"RIFF" and data[8:12] == b"WAVE":
        return "audio/wav"
    if data[:4] == b"fLaC":
        return "audio/flac"
    if data[:6] == b"#!AMR\n":
        return "audio/amr"
    if data[:3] == b"ID3" or (len(data) > 2 and data[0] == 0xFF and data[1] in (0xFB, 0xF3, 0xF2)):
        return "audio/mpeg"
    if len(data) > 2 and data[0] == 0xFF and data[1] & 0xF6 == 0xF0:
        return "audio/aac"
    return None


def keep_sound(data: bytes, name: str) -> Sound:
    """Keep a sound as it was received.

    Raises NotASound when it is empty, too large, or none.
    """
    if not data:
        raise NotASound(f"The spoken note {name} is empty. It was not kept. Say it again.")
    if len(data) > MOST_BYTES:
        raise NotASound(
            f"The spoken note {name} has {len(data) / 1e6:.1f} MB; at most {MOST_BYTES / 1e6:.0f} MB are kept. "
            "It was not kept. Say it shorter."
        )
    kind = sound_type(data)
    if kind is None:
        raise NotASound(
            f"{name} is no sound that can be played, whatever its name says. It was not kept. "
            "Give WebM, Ogg, MP4, WAV, MP3, FLAC, AAC or AMR."
        )
    sha256 = hashlib.sha256(data).hexdigest()
    path = sound_path(sha256)
    if not path.exists():
        write_whole(path, data)
    return Sound(sha256, len(data), kind)
