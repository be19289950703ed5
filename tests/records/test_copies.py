"""What a copy holds and what never gets into it; that it is kept as it was made; and when its link opens.

A JPEG is read here by its markers as ISO/IEC 10918-1 annex B orders them, and Exif as CIPA DC-008 places it (APP1 that
begins with Exif, the position in its GPS part): both from memory. That reader shares nothing with what writes the pictures.
"""

import io
import json
import struct
import uuid
import zipfile
from dataclasses import replace
from datetime import timedelta
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from tests.records.shop import make_part, make_shop
from tests.support.rows import make_finding, told
from tests.support.told import IN_METADATA, SECRETS, TYPED, Told, filled, full_of_metadata
from witnessmark.calc.since import WITHHELD
from witnessmark.papers.since_copy import folder, pdf, plain_cell, zipped
from witnessmark.records.actions.copies import count_opening, end_copy, make_copy
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.bare_pictures import bare_copy
from witnessmark.records.lookups.copies import Ticks, content, copy_behind, report, warnings
from witnessmark.records.lookups.copies import given as copies_given
from witnessmark.records.models import (
    CopyEnded,
    Decision,
    Person,
    Photo,
    PhotoUse,
    Role,
    SentCopy,
    Shipment,
    ShipmentLine,
)
from witnessmark.records.photo_store import keep_bytes

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def data_folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA = tmp_path


@pytest.fixture
def shop() -> Told:
    return filled()


def every(who: str = "public", shown: frozenset[str] = frozenset(), *, typed: bool = False) -> tuple[Any, Ticks]:
    """Everything ticked, down to the last picture; typed words only where they are wanted."""
    from witnessmark.records.lookups.day import the_aircraft

    aircraft = the_aircraft()
    assert aircraft is not None
    of = report(aircraft, who)
    lines = frozenset(line.key for line in of.lines)
    photos = frozenset(one.photo for pair in of.pictures.pairs for one in pair.pictures)
    return of, Ticks(lines, lines if typed else frozenset(), photos, photos if typed else frozenset(), shown)


def read_out(made: dict[str, Any]) -> str:
    """All that a reader of the copy could find: its values, its PDF with every string in it, the names and bytes of its folder."""
    reader = PdfReader(io.BytesIO(pdf(made)))
    parts = [json.dumps(made, ensure_ascii=False), json.dumps({k: str(v) for k, v in (reader.metadata or {}).items()})]
    parts += [page.extract_text() for page in reader.pages]
    parts += [str(reader.xmp_metadata.rdf_root.toxml()) if reader.xmp_metadata else ""]
    for page in reader.pages:
        parts += [image.data.decode("latin-1") for image in page.images]
    with zipfile.ZipFile(io.BytesIO(zipped(made))) as made_zip:
        for entry in made_zip.infolist():
            parts += [entry.filename, entry.comment.decode(), made_zip.read(entry).decode("latin-1")]
            parts.append(made_zip.read(entry).decode("utf-8", errors="ignore"))
    return " ".join(" ".join(parts).split())


# A secret may be cut by a line's end in the PDF: what is read is looked for with and without its blanks.
def holds(text: str, secret: str) -> bool:
    return (
        secret.casefold() in text.casefold() or secret.replace(" ", "").casefold() in text.replace(" ", "").casefold()
    )


def test_the_record_is_full_so_that_the_owner_is_told_all_of_it(shop: Told) -> None:
    """The check of the check: each secret is in the copy that withholds nothing."""
    of, both = every("owner")
    text = json.dumps(content(of, both), ensure_ascii=False)
    for kind, secrets in SECRETS.items():
        assert any(holds(text, secret) for secret in secrets), kind
    assert "36.5" not in text
    assert "7.25 h were booked, all sheet metal" in text
    assert "Spent outside" in text
    assert "decisions are wanted" in text


def test_nothing_that_is_withheld_gets_out_though_every_line_and_picture_is_ticked(shop: Told) -> None:
    made = content(*every())
    assert len(made["pictures"]) == 2
    assert sum(len(section["lines"]) for section in made["sections"]) >= 10
    text = read_out(made)
    for kind, secrets in SECRETS.items():
        for secret in secrets:
            assert not holds(text, secret), f"{kind}: {secret}"
    for secret in IN_METADATA:
        assert not holds(text, secret), secret
    for word in ("Zebulon", "Xylograf", "Polished", "booked", "EUR", "decide/"):
        assert not holds(text, word), word


def test_each_kind_that_is_ticked_gets_out_and_no_other(shop: Told) -> None:
    """Every choice of kinds: what is ticked and only that."""
    of, ticks = every()
    for size in range(len(WITHHELD) + 1):
        for chosen in combinations(WITHHELD, size):
            text = json.dumps(content(of, replace(ticks, shown=frozenset(chosen))), ensure_ascii=False)
            for kind, secrets in SECRETS.items():
                for secret in secrets:
                    if kind not in chosen:
                        assert not holds(text, secret), f"{secret} with {chosen}"
                if kind in chosen and kind != "money":  # prices stand in the owner's lines and in typed words alone
                    assert any(holds(text, secret) for secret in secrets), f"{kind} with {chosen}"


def test_no_choice_of_ticks_lets_out_what_it_did_not_name(shop: Told) -> None:
    of, all_ticks = every(typed=True)
    keys, photos = sorted(all_ticks.lines), sorted(all_ticks.pictures)
    money = SECRETS["money"]

    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(
        lines=st.sets(st.sampled_from(keys)),
        words=st.sets(st.sampled_from(keys)),
        pictures=st.sets(st.sampled_from(photos)),
        captions=st.sets(st.sampled_from(photos)),
        shown=st.sets(st.sampled_from(sorted(WITHHELD))),
    )
    def holds_for(lines: set[str], words: set[str], pictures: set[str], captions: set[str], shown: set[str]) -> None:
        ticks = Ticks(*map(frozenset, (lines, words, pictures, captions, shown)))
        made = content(of, ticks)
        assert {each["photo"] for each in made["pictures"]} == pictures
        text = json.dumps(made, ensure_ascii=False)
        if not words & lines and not captions & pictures:
            assert not any(holds(text, secret) for kind in set(SECRETS) - shown for secret in SECRETS[kind])
            assert not any(holds(text, secret) for secret in money)
        elif any(holds(text, secret) for secret in money) and "money" not in shown:
            assert any(leak.kind == "money" for each in warnings(of, ticks) for leak in each.leaks)
        assert "link" not in text
        assert "booked" not in text

    holds_for()


def test_typed_words_are_warned_of_and_refused_until_somebody_says_he_read_them(shop: Told) -> None:
    of, ticks = every(typed=True)
    found = {(leak.kind, leak.text) for each in warnings(of, ticks) for leak in each.leaks}
    assert {("people", "zebulon"), ("shops", "xylograf"), ("mark", "seqxz"), ("serial", "tagq77")} <= found
    assert {("money", "4711.50 eur"), ("where", "shelfquux")} <= found
    lead = shop.shop.lead
    with pytest.raises(Refused, match="would hold what is not ticked"):
        make(lead, shop, ticks)
    assert SentCopy.objects.count() == 0
    _, copy = make(lead, shop, ticks, knowing=True)
    assert TYPED.split(",")[0].casefold() in json.dumps(copy.content).casefold()
    assert copy.act.said["knowing"] is True


def make(by: Person, shop: Told, ticks: Ticks, who: str = "public", **more: Any) -> tuple[str, SentCopy]:
    more.setdefault("lasts", 30 * DAY)
    more.setdefault("act_id", uuid.uuid4())
    since = timezone.localdate() - timedelta(weeks=4)
    return make_copy(by=by, aircraft=shop.shop.aircraft, for_whom=who, since=since, ticks=ticks, **more)


def test_of_the_public_copy_no_picture_is_ticked_beforehand_and_no_typed_word(shop: Told) -> None:
    of = report(shop.shop.aircraft, "public")
    first = of.first_ticks()
    assert of.pictures.pairs
    assert not first.pictures | first.captions | first.words | first.shown
    made = content(of, first)
    assert made["pictures"] == []
    assert folder(made)[0][0] == "captions.txt"


def test_of_several_pieces_the_one_with_a_picture_before_stands_first_with_both(shop: Told) -> None:
    of = report(shop.shop.aircraft, "owner")
    pair = of.pictures.pairs[0]
    assert [one.which for one in pair.pictures] == ["before", "after"]
    assert [one.photo for one in pair.pictures] == list(shop.photos)
    assert pair.days == 78
    assert pair.happened >= 3  # it came back, a step was finished, it was decided, it has a finding


def test_a_twin_stands_behind_the_larger_picture_and_is_not_shown_beside_it(shop: Told) -> None:
    first = shop.photos[0]
    Photo.objects.filter(pk=first).update(behind=shop.photos[1])
    (pair,) = report(shop.shop.aircraft, "owner").pictures.pairs
    assert [(one.photo, one.which) for one in pair.pictures] == [(shop.photos[1], "now")]


def test_a_code_that_can_be_read_in_a_ticked_picture_is_named(shop: Told) -> None:
    """The code is drawn by segno, which shares nothing with what reads it (ISO/IEC 18004, from memory)."""
    import segno

    out = io.BytesIO()
    segno.make_qr("http://shop.example/t/TAGQ77/").save(out, kind="png", scale=8, border=4)
    photo = keep_bytes(out.getvalue(), "code.png")
    told(shop.shop, lambda act: PhotoUse.objects.create(photo=photo, zone=shop.shop.zone, what="", act=act))
    Photo.objects.filter(pk=photo.pk).update(taken_at=timezone.now())
    of = report(shop.shop.aircraft, "public")
    (warned,) = warnings(of, Ticks(pictures=frozenset({photo.pk})))
    assert [(leak.kind, leak.text) for leak in warned.leaks] == [("where", "http://shop.example/t/TAGQ77/")]
    assert warnings(of, Ticks()) == []
    assert warnings(of, Ticks(pictures=frozenset({photo.pk}), shown=frozenset({"where"}))) == []


# --- the pictures ---


def markers(jpeg: bytes) -> list[tuple[int, bytes]]:
    """The segments of a JPEG before its picture begins."""
    assert jpeg[:2] == b"\xff\xd8"
    at, found = 2, []
    while jpeg[at + 1] != 0xDA:
        assert jpeg[at] == 0xFF
        length = struct.unpack(">H", jpeg[at + 2 : at + 4])[0]
        found.append((jpeg[at + 1], jpeg[at + 4 : at + 2 + length]))
        at += 2 + length
    return found


def test_the_reader_finds_all_that_the_camera_wrote() -> None:
    """The check of the check."""
    raw = full_of_metadata("#112233", timezone.now())
    kinds = [kind for kind, _ in markers(raw)]
    assert {0xE1, 0xE2, 0xED, 0xFE} <= set(kinds)
    exif = next(body for kind, body in markers(raw) if kind == 0xE1 and body.startswith(b"Exif\0\0"))
    assert b"Zebulon Quark" in exif


@pytest.mark.parametrize("width", [320, 800, 1600])
def test_a_picture_that_leaves_holds_the_picture_and_nothing_else(shop: Told, width: int) -> None:
    photo = Photo.objects.get(pk=shop.photos[0])
    assert photo.original_name == "Zebulon Quark.jpg"
    bare = bare_copy(photo, width)
    # JFIF's own header, tables and frame: no APP1 to APP15 and no comment.
    assert {kind for kind, _ in markers(bare)} <= {0xE0, 0xDB, 0xC0, 0xC2, 0xC4}
    assert all(body.startswith(b"JFIF\0") and len(body) == 14 for kind, body in markers(bare) if kind == 0xE0)
    assert bare.endswith(b"\xff\xd9")
    for secret in IN_METADATA:
        assert secret.encode() not in bare
    assert bare_copy(photo, width) == bare


def test_the_folder_is_numbered_pictures_with_their_captions_and_no_clock(shop: Told) -> None:
    of, ticks = every(shown=frozenset({"serial"}))
    made = content(of, ticks)
    with zipfile.ZipFile(io.BytesIO(zipped(made))) as read:
        assert read.namelist() == ["01-before.jpg", "02-after.jpg", "captions.txt", "captions.csv"]
        assert {entry.date_time for entry in read.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert "01-before.jpg: A part, before," in read.read("captions.txt").decode()
        assert "(TAGQ77)" in read.read("captions.csv").decode("utf-8-sig")
    assert zipped(made) == zipped(made)
    assert plain_cell("=HYPERLINK(1)") == "'=HYPERLINK(1)"
    assert plain_cell("-3") == "'-3"


def test_a_picture_whose_file_is_gone_leaves_the_rest(shop: Told) -> None:
    made = content(*every())
    from witnessmark.records.photo_store import original_path

    original_path(shop.photos[0]).unlink()
    assert [name for name, _ in folder(made)] == ["01-after.jpg", "captions.txt", "captions.csv"]
    assert PdfReader(io.BytesIO(pdf(made))).pages


# --- kept as it was made ---


def test_what_was_sent_is_what_is_seen_whatever_the_record_says_later(shop: Told) -> None:
    ticks = every("owner")[1]
    token, copy = make(shop.shop.lead, shop, ticks, "owner")
    before = json.dumps(copy.content, sort_keys=True)
    Shipment.objects.update(process="something else", back_on=None)
    PhotoUse.objects.all().delete()
    told(shop.shop, lambda act: Decision.objects.create(piece=shop.piece, kind="scrap", by=shop.shop.lead, act=act))
    kept = copy_behind(token)
    assert kept is not None
    assert json.dumps(kept.content, sort_keys=True) == before
    assert len(folder(kept.content)) == 4


def test_the_database_refuses_to_change_or_take_back_a_copy(shop: Told) -> None:
    ticks = every("owner")[1]
    _, copy = make(shop.shop.lead, shop, ticks, "owner")
    for write in (
        lambda: SentCopy.objects.filter(pk=copy.pk).update(content={}),
        lambda: SentCopy.objects.filter(pk=copy.pk).update(expires_at=timezone.now() + 999 * DAY),
        lambda: SentCopy.objects.filter(pk=copy.pk).delete(),
    ):
        with pytest.raises(IntegrityError, match="what was recorded stays"), transaction.atomic():
            write()
    end_copy(by=shop.shop.lead, act_id=uuid.uuid4(), copy=copy)
    with pytest.raises(IntegrityError, match="what was recorded stays"), transaction.atomic():
        CopyEnded.objects.filter(copy=copy).delete()


def test_only_the_hash_of_a_link_is_kept_and_it_cannot_be_guessed(shop: Told) -> None:
    ticks = every("owner")[1]
    token, copy = make(shop.shop.lead, shop, ticks, "owner")
    assert len(token) >= 43  # 256 bits in letters of six bits each
    with connection.cursor() as cursor:
        cursor.execute("SELECT token_sha256, content, since FROM records_sentcopy")
        assert token not in str(cursor.fetchall())
        cursor.execute("SELECT said FROM records_act")
        assert token not in str(cursor.fetchall())
        cursor.execute("SELECT result FROM records_actresult")
        assert token not in str(cursor.fetchall())
    assert copy_behind(copy.token_sha256) is None
    assert copy_behind(token[:-1]) is None
    assert copy_behind(token.swapcase()) is None
    assert copy_behind("\udcff") is None
    other, _ = make(shop.shop.lead, shop, ticks, "owner")
    assert other != token


def test_a_link_runs_out_at_its_minute(shop: Told) -> None:
    ticks = every("owner")[1]
    token, copy = make(shop.shop.lead, shop, ticks, "owner", lasts=2 * DAY)
    assert copy.expires_at - copy.made_at == 2 * DAY
    assert copy_behind(token, at=copy.expires_at - timedelta(minutes=1)) == copy
    assert copy_behind(token, at=copy.expires_at - timedelta(microseconds=1)) == copy
    assert copy_behind(token, at=copy.expires_at) is None
    assert copy_behind(token, at=copy.expires_at + timedelta(minutes=1)) is None


def test_an_ended_link_opens_nothing_and_is_ended_once(shop: Told) -> None:
    ticks = every("owner")[1]
    token, copy = make(shop.shop.lead, shop, ticks, "owner")
    count_opening(copy)
    count_opening(copy)
    assert copy_behind(token) == copy
    end_copy(by=shop.shop.lead, act_id=uuid.uuid4(), copy=copy)
    assert copy_behind(token) is None
    with pytest.raises(Refused, match="ended already"):
        end_copy(by=shop.shop.lead, act_id=uuid.uuid4(), copy=copy)
    (one,) = copies_given(shop.shop.aircraft)
    assert (one.state, one.count) == ("ended", 2)


def test_sent_twice_is_one_copy_and_the_link_is_not_told_again(shop: Told) -> None:
    ticks = every("owner")[1]
    act_id = uuid.uuid4()
    make(shop.shop.lead, shop, ticks, "owner", act_id=act_id)
    with pytest.raises(Refused, match="told only once"):
        make(shop.shop.lead, shop, ticks, "owner", act_id=act_id)
    assert SentCopy.objects.count() == 1


def test_who_may_and_what_is_refused(shop: Told) -> None:
    ticks = every("owner")[1]
    lead, aircraft = shop.shop.lead, shop.shop.aircraft
    for person in Person.objects.exclude(role=Role.LEAD):
        with pytest.raises(NotAllowed):
            make(person, shop, ticks, "owner")
    for lasts in (timedelta(0), 366 * DAY, -DAY):
        with pytest.raises(Refused, match="lasts from 1 to 365 days"):
            make(lead, shop, ticks, "owner", lasts=lasts)
    with pytest.raises(Refused, match="Nothing is ticked"):
        make(lead, shop, Ticks(lines=frozenset({"aircraft"})), "owner")
    with pytest.raises(Refused, match="changed since the page was drawn"):
        make(lead, shop, Ticks(lines=frozenset({"shipment:999999"})), "owner")
    with pytest.raises(Refused, match="changed since the page was drawn"):
        make(lead, shop, Ticks(pictures=frozenset({"0" * 64})))
    with pytest.raises(Refused, match="not for 'everybody'"):
        make(lead, shop, ticks, "everybody")
    with pytest.raises(Refused, match="lies ahead: today is"):
        make_copy(
            by=lead, act_id=uuid.uuid4(), aircraft=aircraft, for_whom="owner", since=timezone.localdate() + DAY,
            ticks=ticks, lasts=DAY,
        )  # fmt: skip
    # The owner's lines are not there for the public at all: neither hours nor money can be ticked.
    with pytest.raises(Refused, match="changed since the page was drawn"):
        make(lead, shop, Ticks(lines=frozenset({"money"})))
    assert SentCopy.objects.count() == 0


def test_it_begins_with_the_last_copy_for_the_same_readers(shop: Told) -> None:
    today = timezone.localdate()
    assert report(shop.shop.aircraft, "owner").days.since == today - timedelta(weeks=4)
    ticks = every("owner")[1]
    make(shop.shop.lead, shop, ticks, "owner")
    assert report(shop.shop.aircraft, "owner").days.since == today
    assert report(shop.shop.aircraft, "public").days.since == today - timedelta(weeks=4)


def test_where_nothing_happened_it_says_so() -> None:
    shop = make_shop()
    make_part(shop, "0118", shop.shelf)
    of = report(shop.aircraft, "public")
    assert of.nothing
    assert of.sentence.startswith("Nothing is on record since")
    assert content(of, of.first_ticks())["sections"] == []


def test_the_database_is_asked_as_often_for_sixty_as_for_six() -> None:
    shop = make_shop()

    def grow(first: int, last: int) -> None:
        today = timezone.localdate()
        for n in range(first, last):
            piece = make_part(shop, f"T{n}", shop.shelf)
            make_finding(shop, f"F-{n}", piece=piece, seen_on=today, seen_by=f"Seer {n}")
            photo = keep_bytes(full_of_metadata(f"#0000{n:02x}", timezone.now()), f"{n}.jpg")

            def add(act: Any, piece: Any = piece, photo: Photo = photo, n: int = n) -> None:
                PhotoUse.objects.create(photo=photo, piece=piece, what="x", act=act)
                out = Shipment.objects.create(
                    number=f"S{n}", vendor=shop.vendor, process="plate", sent_on=today, act=act,
                    back_on=today if n % 2 else None,
                )  # fmt: skip
                ShipmentLine.objects.create(shipment=out, piece=piece, count_out=1, count_back=n % 2 or None)

            told(shop, add)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            of = report(shop.aircraft, "public")
            warnings(of, Ticks(lines=frozenset(line.key for line in of.lines)))
            report(shop.aircraft, "owner")
            copies_given(shop.aircraft)
        return len(seen)

    grow(0, 6)
    report(shop.aircraft, "owner")
    few = queries()
    grow(6, 60)
    assert queries() == few
