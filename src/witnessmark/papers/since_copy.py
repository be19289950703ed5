"""A copy of what happened since a day, on paper and as a folder of pictures: made from the copy as it was kept.

Of a public copy nothing goes in but what the copy holds: no name of aircraft or shop at the foot, no code, no author.
"""

import csv
import io
import os
import re
import zipfile
from datetime import date
from typing import Any

from witnessmark.papers.typesetting import DEFAULT_ADDRESS, Stamp, typeset
from witnessmark.records.bare_pictures import bare_copy
from witnessmark.records.models import Photo

PAPER_PX = 800
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def _spoken(day: str) -> str:
    found = date.fromisoformat(day)
    return f"{found.day} {found:%B %Y}"


def days_of(content: dict[str, Any]) -> str:
    """The days the copy tells of, in words."""
    return f"From {_spoken(content['since'])} to {_spoken(content['until'])}."


def _address(link: str) -> str:
    """Where a decision sheet opens for who is signed in; empty where codes on paper hold no address."""
    base = os.environ.get("WITNESSMARK_URL", DEFAULT_ADDRESS).strip().rstrip("/")
    return f"{base}{link}" if base else ""


def _pictures(content: dict[str, Any], width: int) -> list[bytes | None]:
    """The copy's pictures, each with nothing beside the picture; None for one whose file is gone."""
    shown = content["pictures"]
    photos = Photo.objects.in_bulk([each["photo"] for each in shown])
    made: list[bytes | None] = []
    for each in shown:
        photo = photos.get(each["photo"])
        try:
            made.append(bare_copy(photo, width) if photo is not None else None)
        except OSError:
            made.append(None)
    return made


def pdf(content: dict[str, Any]) -> bytes:
    """Set the copy on A4."""
    pictures = _pictures(content, PAPER_PX)
    pairs: dict[int, list[dict[str, Any]]] = {}
    for number, each in enumerate(content["pictures"]):
        if pictures[number] is not None:
            pairs.setdefault(each["pair"], []).append(
                {
                    "number": number,
                    "caption": each["caption"],
                    "share": each["height"] / each["width"],
                    "ring": each["ring"],
                }
            )
    # Two that stand alone share a line.
    alone = [pair[0] for pair in pairs.values() if len(pair) == 1]
    lines = [pair for pair in pairs.values() if len(pair) > 1]
    lines += [alone[at : at + 2] for at in range(0, len(alone), 2)]
    stamp = Stamp(f"For the {content['for']}", "", date.fromisoformat(content["until"]), None)
    return typeset(
        "since_copy.typ",
        {
            "title": "For the owner" if content["for"] == "owner" else "Since the last time",
            "sentence": content["sentence"],
            "days": days_of(content),
            "pairs": lines,
            "aircraft": content["aircraft"],
            "sections": [
                {
                    "head": section["head"],
                    "lines": [
                        [
                            line["says"],
                            _address(line["link"]) if line.get("link") and section["name"] == "wanted" else "",
                        ]
                        for line in section["lines"]
                    ],
                }
                for section in content["sections"]
            ],
        },
        stamp,
        pictures,
    )


def folder(content: dict[str, Any]) -> list[tuple[str, bytes]]:
    """Numbered pictures, and their captions as text and as a table; the files in their order."""
    files: list[tuple[str, bytes]] = []
    captions: list[tuple[str, str, str]] = []
    for each, picture in zip(content["pictures"], _pictures(content, 1600), strict=True):
        if picture is None:
            continue
        name = f"{len(files) + 1:02}-{each['which']}.jpg"
        files.append((name, picture))
        captions.append((name, each["which"], each["caption"]))
    text = "\n".join([content["aircraft"], days_of(content), "", *(f"{name}: {said}" for name, _, said in captions)])
    table = io.StringIO()
    rows = csv.writer(table, lineterminator="\r\n")
    rows.writerow(("file", "which", "caption"))
    rows.writerows([plain_cell(cell) for cell in row] for row in captions)
    return [*files, ("captions.txt", f"{text}\n".encode()), ("captions.csv", table.getvalue().encode("utf-8-sig"))]


def plain_cell(text: str) -> str:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def zipped(content: dict[str, Any]) -> bytes:
    """The folder as one file; the same copy gives the same bytes, and no clock or user of this computer is in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, data in folder(content):
            kind = zipfile.ZIP_STORED if name.endswith(".jpg") else zipfile.ZIP_DEFLATED
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = kind
            entry.external_attr = 0o644 << 16
            entry.create_system = 3
            made.writestr(entry, data)
    return out.getvalue()


def file_word(content: dict[str, Any]) -> str:
    """What the file is called: for whom and from which day, and nothing else."""
    return re.sub(r"[^a-z0-9-]", "", f"since-{content['since']}-{content['for']}")
