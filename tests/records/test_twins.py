"""Two that may be the same picture are found once, told by a person, and the larger stands in front; nothing is deleted."""

import io
import os
import subprocess
import sys
import uuid
from pathlib import Path
from typing import Any

import numpy as np
import pi_heif
import pytest
from PIL import Image

from tests.records.shop import Shop, make_part, make_shop
from tests.support.heic import TAG_1001
from witnessmark.records.actions.old_pictures import old_picture_comes_in
from witnessmark.records.actions.picture_sorting import give_pictures
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.actions.twins import find_twins, say_twins
from witnessmark.records.lookups.old_pictures import counted
from witnessmark.records.lookups.pictures import waits
from witnessmark.records.lookups.pieces import piece_seen
from witnessmark.records.lookups.twins import twins_to_tell
from witnessmark.records.models import Photo, PhotoLikeness, PhotoUse, Twins

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(tmp_path: Path, settings: Any) -> Shop:
    settings.DATA = tmp_path / "own data"
    return make_shop()


def scene(seed: int) -> Image.Image:
    patches = np.random.default_rng(seed).integers(20, 235, (5, 6, 3), np.uint8)
    return Image.fromarray(patches).resize((800, 600), Image.Resampling.BICUBIC)


def jpeg(image: Image.Image, quality: int = 85, orientation: int = 1) -> bytes:
    out, exif = io.BytesIO(), Image.Exif()
    exif[0x0112] = orientation
    image.save(out, "JPEG", quality=quality, exif=exif)
    return out.getvalue()


def come(shop: Shop, data: bytes, name: str = "a.jpg") -> Photo:
    return Photo.objects.get(pk=old_picture_comes_in(by=shop.mechanic, data=data, name=name)["photo"])


def pair_of(shop: Shop) -> tuple[Photo, Photo, Twins]:
    """A picture and a smaller one of it."""
    large, small = come(shop, jpeg(scene(1))), come(shop, jpeg(scene(1).resize((400, 300)), 60))
    assert find_twins() == 1
    return large, small, Twins.objects.get()


def test_it_is_found_however_it_was_changed_and_once(shop: Shop) -> None:
    come(shop, jpeg(scene(1)))
    come(shop, jpeg(scene(2)))
    assert find_twins() == 0
    come(shop, jpeg(scene(1).resize((400, 300)), 50))
    # Lies on its side and says so (Exif 2.2, orientation 6: the right side is up), as a phone held upright writes it.
    come(shop, jpeg(scene(1).transpose(Image.Transpose.ROTATE_90), 80, orientation=6))
    assert find_twins() == 3  # three of the first scene, each with each
    assert {row.quarters for row in Twins.objects.all()} == {0}
    assert find_twins() == 0
    assert not PhotoLikeness.objects.filter(held=False).exists()


def test_a_heic_and_a_jpeg_of_it_are_found(shop: Shop) -> None:
    """The HEIC was encoded by libheif's own heif-enc; pi-heif reads it back for the JPEG."""
    come(shop, TAG_1001, "a.heic")
    read = pi_heif.read_heif(TAG_1001)
    come(shop, jpeg(Image.frombytes(read.mode, read.size, read.data, "raw", read.mode, read.stride).convert("RGB"), 70))
    assert find_twins() == 1


def test_what_came_in_before_there_were_likenesses_is_held_too(shop: Shop) -> None:
    come(shop, jpeg(scene(1)))
    PhotoLikeness.objects.all().delete()
    come(shop, jpeg(scene(1).resize((400, 300)), 60))
    assert find_twins() == 1


def test_the_larger_stands_in_front_and_shows_what_the_smaller_showed(shop: Shop) -> None:
    piece = make_part(shop, "0118", shop.shelf)
    large, small, twins = pair_of(shop)
    assert (twins_to_tell()[0].larger, twins_to_tell()[0].smaller) == (large, small)
    give_pictures(by=shop.mechanic, act_id=uuid.uuid4(), photos=[small], piece=piece)
    assert waits().unsorted == 1
    told = say_twins(by=shop.mechanic, act_id=uuid.uuid4(), twins=twins, same=True)
    assert told["front"] == large.sha256
    small.refresh_from_db()
    assert small.behind == large
    assert {use.photo_id for use in PhotoUse.objects.filter(piece=piece)} == {large.sha256, small.sha256}
    assert [use.photo_id for use in piece_seen(piece).photos] == [large.sha256]  # in front; the smaller is behind it
    assert waits().unsorted == counted().unsorted == 0
    assert Photo.objects.count() == 2  # nothing is deleted


def test_it_can_be_taken_back(shop: Shop) -> None:
    piece = make_part(shop, "0118", shop.shelf)
    large, small, twins = pair_of(shop)
    give_pictures(by=shop.mechanic, act_id=uuid.uuid4(), photos=[small], piece=piece)
    say_twins(by=shop.mechanic, act_id=uuid.uuid4(), twins=twins, same=True)
    say_twins(by=shop.mechanic, act_id=uuid.uuid4(), twins=twins, same=None)
    small.refresh_from_db()
    assert small.behind is None
    assert [use.photo_id for use in PhotoUse.objects.filter(piece=piece)] == [small.sha256]
    assert waits().unsorted == 1 and len(twins_to_tell()) == 1
    say_twins(by=shop.mechanic, act_id=uuid.uuid4(), twins=twins, same=False)
    assert twins_to_tell() == [] and counted().twins == 0
    with pytest.raises(Refused, match="said already"):
        say_twins(by=shop.mechanic, act_id=uuid.uuid4(), twins=twins, same=False)
    assert large.behind is None


def test_of_three_the_largest_stands_in_front_of_both(shop: Shop) -> None:
    sizes = [(200, 150), (800, 600), (400, 300)]
    photos = [come(shop, jpeg(scene(1).resize(size), 80)) for size in sizes]
    assert find_twins() == 3
    for twins in Twins.objects.all():
        if {twins.photo_id, twins.other_id} != {photos[0].sha256, photos[1].sha256}:  # two words join three
            say_twins(by=shop.mechanic, act_id=uuid.uuid4(), twins=twins, same=True)
    fronts = dict(Photo.objects.values_list("pk", "behind"))
    assert fronts == {photos[0].pk: photos[1].pk, photos[1].pk: None, photos[2].pk: photos[1].pk}
    assert counted().unsorted == 1


def test_who_may_only_look_says_nothing(shop: Shop) -> None:
    *_, twins = pair_of(shop)
    with pytest.raises(NotAllowed):
        say_twins(by=shop.owner, act_id=uuid.uuid4(), twins=twins, same=True)
    assert Twins.objects.get().same is None


ASK = """
import io
from PIL import Image
from witnessmark.cli.main import open_record
open_record(make=True)
from witnessmark.records.actions.old_pictures import old_picture_comes_in
from witnessmark.records.actions.twins import seek_twins
from witnessmark.records.models import Person, Role
lead = Person.objects.create(name="Lead", role=Role.LEAD)
ramp = Image.radial_gradient("L")
for side in (256, 200):
    out = io.BytesIO()
    ramp.resize((side, side)).save(out, "JPEG")
    old_picture_comes_in(by=lead, data=out.getvalue(), name=f"{side}.jpg")
seek_twins()
"""
TOLD = """
from witnessmark.cli.main import open_record
open_record()
from witnessmark.records.models import Twins, Work
print(Work.objects.get(kind="find_twins").state, Twins.objects.count())
"""


def test_a_worker_by_itself_finds_them(tmp_path: Path) -> None:
    """As the server starts it: a process of its own that saw no screen."""
    of_its_own = os.environ | {"WITNESSMARK_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "witnessmark.settings"}
    of_its_own.pop("WITNESSMARK_DATABASE", None)

    def run(*words: str) -> str:
        done = subprocess.run([sys.executable, *words], env=of_its_own, capture_output=True, text=True, timeout=120)
        assert done.returncode == 0, done.stderr
        return done.stdout

    run("-c", ASK)
    run("-m", "witnessmark", "worker", "--once")
    assert run("-c", TOLD).split() == ["done", "1"]
