"""Under a public picture stands what the part is, in words of ours; nothing of a name that hides something."""

import csv
import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.records.test_copies import every, holds, read_out
from tests.support.told import SECRETS, Told, filled
from witnessmark.papers.since_copy import zipped
from witnessmark.records.lookups.copies import Ticks, content, report, warnings
from witnessmark.records.models import Person, PhotoUse, Piece, Vendor
from witnessmark.records.models.people import Role

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA = tmp_path


@pytest.fixture
def shop() -> Told:
    return filled()


def captions(shop: Told, name: str, **more: Any) -> list[str]:
    """The public captions of the piece's two pictures where it is called this."""
    Piece.objects.filter(pk=shop.piece.pk).update(name=name)
    return [one["caption"] for one in content(*every(**more))["pictures"]]


def test_a_pair_says_what_the_part_is_before_and_after(shop: Told) -> None:
    before, after = captions(shop, "Wing rib 6 L, spruce/ply")
    assert before.startswith("Wing rib, before, ")
    assert after.startswith("Wing rib, after, ")
    shown = content(*every())["pictures"]
    assert [(one["pair"], one["which"]) for one in shown] == [(0, "before"), (0, "after")]
    assert "wing rib" not in json.dumps(content(report(shop.shop.aircraft, "public"), Ticks()))


@pytest.mark.parametrize(
    "name",
    [
        "Fitting of Zebulon",  # a person's name
        "Ottilie’s bracket",
        "OTTILIE bracket",
        "Xylograf bracket",  # a vendor's
        "Bracket for Hangarlund Werft",  # the shop's
        "SE-QXZ wing rib",  # the register mark, written all ways
        "wing rib SEQXZ",
        "Bracket TAGQ77",
        "bracket PN 77 QQ",
        "Bracket from Shelfquux",
        "Bracket, 4711.50 EUR",
    ],
)
def test_of_a_name_that_hides_something_nothing_is_said(shop: Told, name: str) -> None:
    for caption in captions(shop, name):
        assert caption.startswith("A part, ")
    made = content(*every())
    text = read_out(made)
    for secret in (one for some in SECRETS.values() for one in some):
        assert not holds(text, secret), secret
    for word in name.replace(",", "").split():
        assert word.casefold() in ("for", "from", "of") or word not in " ".join(
            one["caption"] for one in made["pictures"]
        )


def test_a_name_that_is_itself_a_word_of_the_bench_is_withheld_once_the_record_knows_it(shop: Told) -> None:
    assert captions(shop, "Cowling hook")[0].startswith("Cowling hook, before")
    Person.objects.create(name="Anders Hook", role=Role.MECHANIC)
    assert captions(shop, "Cowling hook")[0].startswith("A part, before")
    Person.objects.all().filter(name="Anders Hook").update(name="Anders")
    Vendor.objects.filter(code="XG").update(name="Cowling House")
    assert captions(shop, "Cowling hook")[0].startswith("A part, before")


def test_a_name_that_the_record_does_not_know_is_no_word_of_ours(shop: Told) -> None:
    assert captions(shop, "Kvitebjorn bracket, left, station 40")[0].startswith("Bracket, before")
    text = read_out(content(*every()))
    for word in ("Kvitebjorn", "station 40"):
        assert not holds(text, word)


def test_its_own_words_stand_there_only_where_they_are_ticked_and_are_warned_of(shop: Told) -> None:
    own = captions(shop, "Kvitebjorn bracket", typed=True)
    assert own[0].startswith("Before, ") and "kvitebjorn bracket" in own[0]
    of, ticks = every(typed=True)
    assert any("Polished by" in each.says or "polished by" in each.says for each in warnings(of, ticks))
    of, ticks = every()
    assert warnings(of, ticks) == []


def test_a_picture_of_no_piece_is_said_to_be_of_the_aircraft(shop: Told) -> None:
    PhotoUse.objects.filter(photo=shop.photos[1]).update(piece=None, zone=shop.shop.zone)
    PhotoUse.objects.filter(photo=shop.photos[0]).update(piece=None, zone=shop.shop.zone)
    shown = [one["caption"] for one in content(*every())["pictures"]]
    assert len(shown) == 2
    assert shown[0].startswith("A stretch of the aircraft, before")
    assert "Zonkhull" not in json.dumps(shown)


def test_the_owners_captions_stay_whole(shop: Told) -> None:
    Piece.objects.filter(pk=shop.piece.pk).update(name="Wing rib 6")
    first = content(*every("owner"))["pictures"][0]["caption"]
    assert first.startswith("Before, ") and "wing rib 6 (TAGQ77)" in first


def test_the_folder_and_its_table_say_the_same(shop: Told) -> None:
    Piece.objects.filter(pk=shop.piece.pk).update(name="Wing rib 6")
    with zipfile.ZipFile(io.BytesIO(zipped(content(*every())))) as read:
        assert "01-before.jpg: Wing rib, before, " in read.read("captions.txt").decode()
        rows = list(csv.reader(io.StringIO(read.read("captions.csv").decode("utf-8-sig"))))
    assert [row[2].split(",")[0] for row in rows[1:]] == ["Wing rib", "Wing rib"]
