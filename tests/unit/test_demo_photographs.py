"""The demo's pictures: drawn the same every time, dated, and a tag in them can be read."""

from pathlib import Path

import pytest

import witnessmark.demo
from witnessmark.demo import photographs

LISTS = Path(witnessmark.demo.__file__).parent / "lists"
ALL = photographs.pictures(LISTS)


def test_every_silhouette_is_used() -> None:
    assert {"fitting", "skin", "rib", "tube", "casting", "bag", "wheel", "instrument"} <= {p.kind for p in ALL}
    assert len({p.file for p in ALL}) == len(ALL) >= 100


@pytest.mark.parametrize("picture", [p for p in ALL if p.tag][::12], ids=lambda p: p.file)
def test_the_code_on_the_tag_says_the_tag(picture: photographs.Picture) -> None:
    import zxingcpp

    image = photographs.draw(picture)
    assert image.size == (photographs.WIDTH, photographs.HEIGHT)
    assert [code.text for code in zxingcpp.read_barcodes(image)] == [photographs.QR_PREFIX + picture.tag]


def test_pictures_come_out_the_same_and_dated(tmp_path: Path) -> None:
    from PIL import ExifTags, Image

    lists = tmp_path / "lists"
    lists.mkdir()
    for name in ("parts", "bags", "findings"):
        (lists / f"{name}.csv").write_bytes((LISTS / f"{name}.csv").read_bytes())
    (lists / "photos.csv").write_text("file,subject,taken_on,by,what\na.jpg,0118,2026-03-24,Ilva,In place\n")
    seen: list[tuple[int, int]] = []
    assert photographs.draw_all(lists, tmp_path / "one", lambda done, of: seen.append((done, of))) == 1
    assert photographs.draw_all(lists, tmp_path / "two") == 1
    assert seen == [(1, 1)]
    one = tmp_path / "one" / "a.jpg"
    assert one.read_bytes() == (tmp_path / "two" / "a.jpg").read_bytes()
    with Image.open(one) as image:
        exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
    assert exif[ExifTags.Base.DateTimeOriginal] == "2026:03:24 10:00:00"
