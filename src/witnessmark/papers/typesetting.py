"""Turn a template and plain data into a PDF: offline, with the papers' own fonts, the same bytes every time.

What people wrote goes to the typesetter as data (JSON), never as markup: a '#' or '$' in a name prints as itself.
"""

import json
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import quote

from witnessmark import __version__
from witnessmark.calc.working import CAUTION_LINE
from witnessmark.records.lookups.day import day_number, today
from witnessmark.records.models import Aircraft

HERE = Path(__file__).parent
DEFAULT_ADDRESS = "http://127.0.0.1:8040"


@dataclass(frozen=True)
class Stamp:
    """What every paper says of itself: which aircraft and shop, which day, which version."""

    aircraft: str
    shop: str
    day: date
    day_number: int | None
    version: str = __version__

    def words(self) -> dict[str, str]:
        """Give the stamp as the templates print it."""
        day = f"{self.day:%a} {self.day.day} {self.day:%b %Y}"
        number = "" if self.day_number is None else f", day {self.day_number}"
        return {
            "aircraft": self.aircraft or "No aircraft in the record",
            "line": ", ".join(filter(None, (self.shop, day))) + number + f", version {self.version}",
            "short": f"{short_day(self.day)} {self.day.year}, version {self.version}",
            "caution": CAUTION_LINE,
        }


def stamp_for(aircraft: Aircraft | None) -> Stamp:
    """Stamp a paper for this aircraft and its day."""
    name = ""
    if aircraft is not None:
        name = aircraft.name
        if aircraft.works_number:
            name += f", works number {aircraft.works_number}"
    return Stamp(name, aircraft.shop if aircraft else "", today(aircraft), day_number(aircraft))


def short_day(day: date) -> str:
    """Write a day as people read it on a tag: 12 May."""
    return f"{day.day} {day:%b}"


def address_of(tag: str, base: str | None = None, under: str = "t") -> str:
    """Give what a code holds: the address of a tag (or a shipment), or `WM:<tag>` where WITNESSMARK_URL is empty."""
    if base is None:
        base = os.environ.get("WITNESSMARK_URL", DEFAULT_ADDRESS)
    base = base.strip().rstrip("/")
    return f"{base}/{under}/{quote(tag, safe='')}/" if base else f"WM:{tag}"


def code_svg(content: str) -> str:
    """Draw a QR code as SVG, two modules of white round it; the layout keeps more white beside it."""
    import segno

    drawn = BytesIO()
    segno.make_qr(content, error="m").save(drawn, kind="svg", border=2, light="#fff", xmldecl=False, svgclass=None)
    return drawn.getvalue().decode()


@lru_cache(maxsize=2)
def _fonts(*, system: bool) -> Any:
    """The papers' own fonts; the computer's are asked only for scripts that those do not have."""
    import typst

    return typst.Fonts(include_system_fonts=system, include_embedded_fonts=True, font_paths=[str(HERE / "fonts")])


def _beyond_own_fonts(text: str) -> bool:
    return any(letter > "\u052f" and not "\u1e00" <= letter <= "\u25ff" for letter in text)


def typeset(
    template: str,
    data: Mapping[str, Any],
    stamp: Stamp,
    pictures: Iterable[bytes | None] = (),
    ppi: float | None = None,
) -> bytes:
    """Set one paper; `pictures` are numbered as they come and the template asks for them by number.

    It is a PDF, or with `ppi` a PNG of so many dots an inch (one page).
    """
    import typst

    with tempfile.TemporaryDirectory(prefix="witnessmark-paper-") as folder:
        root = Path(folder)
        for name in ("common.typ", template):
            shutil.copyfile(HERE / name, root / name)
        shown = []
        for number, picture in enumerate(pictures):
            if picture is not None:
                (root / f"picture-{number}.jpg").write_bytes(picture)
            shown.append(picture is not None)
        written = json.dumps({**data, "stamp": stamp.words(), "shown": shown}, ensure_ascii=False)
        (root / "data.json").write_text(written, encoding="utf-8")
        made = typst.compile(
            str(root / template),
            root=folder,
            font_paths=_fonts(system=_beyond_own_fonts(written)),
            ignore_system_fonts=True,
            format="pdf" if ppi is None else "png",
            ppi=ppi,
            timestamp=datetime(stamp.day.year, stamp.day.month, stamp.day.day, tzinfo=UTC),
            package_path=str(root / "no-packages"),
            package_cache_path=str(root / "no-packages"),
        )
    assert isinstance(made, bytes)
    return made


def write_atomically(file: Path, content: bytes) -> None:
    """Put a file in place whole or not at all."""
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}-")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
