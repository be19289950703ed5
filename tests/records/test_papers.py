"""Each paper is read back: its words on every page, its codes off a 300 dpi print, its size and its bytes."""

import re
import shutil
import subprocess
import time
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from witnessmark import __version__
from witnessmark.calc.working import CAUTION_LINE
from witnessmark.papers import bench_list, labels, platers_sheet, rivet_order, tags
from witnessmark.papers.typesetting import Stamp, address_of, write_atomically

STAMP = Stamp("Testbird, works number 7", "Shop", date(2026, 5, 12), 412)
NASTY = '#panic("x") $x_1$ *b* @ref <label> _u_ \\ // /* `raw` = - + "quoted" [#sys]'
POPPLER = shutil.which("pdftoppm")
A4_POINTS = (595, 842)


def a_tag(tag: str = "0118", **changed: object) -> tags.Tag:
    values = {
        "tag": tag,
        "side": "LEFT",
        "name": "Wing root fitting",
        "goes": "Goes to left wing, 6-51-020 left, WS 0.",
        "part_no": "6-51-020",
        "aircraft": "Testbird 7",
        "medium": (("Metal tag:", "strip, plate."), ("Off:", "prime.")),
        "address": address_of(tag, "http://10.0.0.2:8040"),
        **changed,
    }
    return tags.Tag(**values)  # type: ignore[arg-type]


def a_label(tag: str = "L-014", **changed: object) -> labels.Label:
    values = {
        "tag": tag,
        "count": 46,
        "what": "bolts, M8x1",
        "zones": "pylon, mount",
        "mass_g": 1412.0,
        "address": address_of(tag, "http://10.0.0.2:8040"),
        **changed,
    }
    return labels.Label(**values)  # type: ignore[arg-type]


def a_sheet(lines: int = 2, name: str = "Wing root bolts.") -> platers_sheet.PlatersPaper:
    made = tuple(
        platers_sheet.Line(
            f"L-{n:03}", name, "Steel.", 8, 600.0 if n else None, 1100.0 if n else None, "Do not cut the wire."
        )
        for n in range(lines)
    )
    warned = (platers_sheet.Warned("Cadmium: never heat it.", "plater", "shop practice (memory)"),)
    sheet = platers_sheet.Sheet(
        "S-031", "Plating Works", "QB", "cadmium plate", made, "Under the least order.", "Left on 20 May.", warned
    )
    return platers_sheet.PlatersPaper(STAMP, "S-031", (sheet,))


def an_order(name: str = "VN11-3.0") -> rivet_order.OrderPaper:
    line = rivet_order.Line(
        name, "flush rivet", "7 mm", 420, 42, 0, 500, ("HB-12 left 400", "HB-13 left 20"), "420 + 42."
    )
    return rivet_order.OrderPaper(
        STAMP, (rivet_order.VendorLines("Rivet Works", "40 days.", (line,)),), ("HB-9 right",), (), "10 %."
    )


def a_bench(jobs: int = 3, name: str = "Fit the bracket.") -> bench_list.BenchList:
    made = tuple(bench_list.Job(f"{name} {n}", "Because it came back.", "Wear gloves.", ("1 h",)) for n in range(jobs))
    wait = bench_list.Wait("Row HB-9 right", "the rivets have to come", "Ring them.")
    pages = (
        bench_list.Page(
            "Jorun",
            "sheet metal",
            "Today 8 hours.",
            made[0].what if made else "",
            made,
            (wait,),
            (bench_list.Leaves("8 pieces", "A day late.", "20 May", "half the chance by 3 Jun"),),
        ),
        bench_list.Page("Sel", "wood", "There is no better work for him today.", ""),
    )
    return bench_list.BenchList(STAMP, pages)


PAPERS = {
    "tags": lambda: tags.pdf(tags.Tags(STAMP, tuple(a_tag(f"0{n}") for n in range(100, 108)))),
    "labels": lambda: labels.pdf(labels.Labels(STAMP, tuple(a_label(f"L-{n}") for n in range(100, 130)))),
    "order": lambda: rivet_order.pdf(an_order()),
    "sheet": lambda: platers_sheet.pdf(a_sheet(14)),
    "bench": lambda: bench_list.pdf(a_bench()),
}
EMPTY = {
    "tags": lambda: tags.pdf(tags.Tags(STAMP, ())),
    "labels": lambda: labels.pdf(labels.Labels(STAMP, ())),
    "order": lambda: rivet_order.pdf(rivet_order.OrderPaper(STAMP, (), (), (), "")),
    "sheet": lambda: platers_sheet.pdf(platers_sheet.PlatersPaper(STAMP, "QB", ())),
    "bench": lambda: bench_list.pdf(bench_list.BenchList(STAMP, ())),
}


def words(content: bytes) -> list[str]:
    """The text of each page with its white space made plain."""
    return [" ".join(page.extract_text().replace("\u200b", "").split()) for page in PdfReader(BytesIO(content)).pages]


def codes(content: bytes, folder: Path) -> list[str]:
    """Print at 300 dpi and read every code back."""
    if POPPLER is None:
        pytest.skip("pdftoppm is missing (Debian package poppler-utils): no code was read back from print")
    (folder / "paper.pdf").write_bytes(content)
    subprocess.run(
        [POPPLER, "-r", "300", "-gray", folder / "paper.pdf", folder / "page"], check=True, capture_output=True
    )
    return [
        found.text for page in sorted(folder.glob("page*.pgm")) for found in zxingcpp.read_barcodes(Image.open(page))
    ]


@pytest.mark.parametrize("made", [*PAPERS.values(), *EMPTY.values()])
def test_every_page_says_what_it_is_for_and_of_which_day(made) -> None:
    content = made()
    pages = words(content)
    for number, page in enumerate(pages, 1):
        assert CAUTION_LINE in page
        assert "Tue 12 May 2026, day 412" in page
        assert f"version {__version__}" in page
        assert "Testbird" in page
        assert f"page {number} of {len(pages)}" in page
    for sheet in PdfReader(BytesIO(content)).pages:
        assert (round(sheet.mediabox.width), round(sheet.mediabox.height)) == A4_POINTS


@pytest.mark.parametrize("made", PAPERS.values())
def test_the_same_paper_has_the_same_bytes(made) -> None:
    first = made()
    time.sleep(1.1)  # the clock must not be in it
    assert made() == first


def test_an_empty_paper_says_so() -> None:
    said = {name: " ".join(words(made())) for name, made in EMPTY.items()}
    assert "No tag is asked for" in said["tags"]
    assert "No label is asked for" in said["labels"]
    assert "There is no rivet to order." in said["order"]
    assert "Nothing is ready to leave for QB" in said["sheet"]
    assert "names no mechanic" in said["bench"]


@pytest.mark.parametrize("tag", ["0118", "L-014", "6/51 Ł#?", "X" * 40])
def test_codes_of_tags_and_labels_read_back(tag: str, tmp_path: Path) -> None:
    (tmp_path / "t").mkdir()
    (tmp_path / "l").mkdir()
    long = "http://workshop-computer.example:8040"
    made = tags.pdf(tags.Tags(STAMP, (a_tag(tag, address=address_of(tag, long)), a_tag("0300"))))
    assert sorted(codes(made, tmp_path / "t")) == sorted([address_of(tag, long), "http://10.0.0.2:8040/t/0300/"])
    made = labels.pdf(labels.Labels(STAMP, tuple(a_label(t, address=address_of(t, long)) for t in (tag, "L-2"))))
    assert sorted(codes(made, tmp_path / "l")) == sorted(address_of(t, long) for t in (tag, "L-2"))


def test_a_whole_sheet_of_labels_reads_back(tmp_path: Path) -> None:
    made = labels.pdf(labels.Labels(STAMP, tuple(a_label(f"L-{n}") for n in range(24))))
    assert sorted(codes(made, tmp_path)) == sorted(address_of(f"L-{n}", "http://10.0.0.2:8040") for n in range(24))
    assert len(words(made)) == 1


def test_the_address_follows_the_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("WITNESSMARK_URL", raising=False)
    assert address_of("0118") == "http://127.0.0.1:8040/t/0118/"
    monkeypatch.setenv("WITNESSMARK_URL", "https://shop.example/")
    assert address_of("a/b") == "https://shop.example/t/a%2Fb/"
    assert address_of("S-1", under="outwork") == "https://shop.example/outwork/S-1/"
    monkeypatch.setenv("WITNESSMARK_URL", "")
    assert address_of("0118") == "WM:0118"


def test_markup_in_names_prints_as_itself() -> None:
    for content in (
        tags.pdf(tags.Tags(STAMP, (a_tag(name=NASTY, goes=NASTY),))),
        rivet_order.pdf(an_order(NASTY)),
        platers_sheet.pdf(a_sheet(1, NASTY)),
        bench_list.pdf(a_bench(1, NASTY)),
        labels.pdf(labels.Labels(STAMP, (a_label(what=NASTY),))),
    ):
        assert NASTY in " ".join(words(content))


def test_letters_of_other_languages_print_and_unknown_ones_stop_nothing() -> None:
    said = words(tags.pdf(tags.Tags(STAMP, (a_tag(name="Ølstøtte Flügel Čaška Štít", goes="Ωmega Крыло 主翼 🙂"),))))[0]
    for word in ("Ølstøtte", "Flügel", "Čaška", "Štít", "Ωmega", "Крыло"):
        assert word in said


def test_a_tag_says_where_it_goes_and_which_tag_goes_through_what() -> None:
    said = words(tags.pdf(tags.Tags(STAMP, (a_tag(),), untagged=2)))[0]
    for part in (
        "0118",
        "LEFT",
        "Wing root fitting",
        "Goes to left wing",
        "6-51-020",
        "Metal tag: strip, plate.",
        "Off: prime.",
    ):
        assert part in said
    assert "2 parts have no tag yet" in said
    assert "12 May 2026, version" in said


def test_a_label_says_what_was_not_weighed() -> None:
    said = words(labels.pdf(labels.Labels(STAMP, (a_label(), a_label("L-2", mass_g=None)))))[0]
    assert "46 bolts, M8x1" in said
    assert "1,412 g, 3.11 lb" in said
    assert "Mass not weighed" in said


def test_the_sheet_counts_weighs_and_leaves_room_to_sign() -> None:
    said = words(platers_sheet.pdf(a_sheet(3)))[0]
    assert "24 pieces, 1,200 g, part not weighed" in said
    assert "not weighed" in said
    assert "not known" in said
    for part in (
        "Specification",
        "Counted out, Shop",
        "Counted in, Plating Works",
        "Counted back, Shop",
        "Cadmium: never heat it.",
        "Hand over to: plater",
        "Do not cut the wire.",
    ):
        assert part in said


def test_the_order_names_the_rows_that_hold_it() -> None:
    said = words(rivet_order.pdf(an_order()))[0]
    assert "Hold the rivet order: 1 row is not looked at" in said
    for part in ("HB-9 right", "VN11-3.0", "7 mm", "420", "42", "500", "HB-12 left 400", "Rivet Works"):
        assert part in said


def test_the_bench_list_has_a_page_a_person() -> None:
    pages = words(bench_list.pdf(a_bench()))
    assert len(pages) == 2
    assert "Do this now Fit the bracket. 0" in pages[0]
    assert "Row HB-9 right" in pages[0]
    assert "there is nothing to do now" in pages[1]


def test_very_long_words_stay_on_their_tag() -> None:
    long = "unbroken" * 40
    content = tags.pdf(tags.Tags(STAMP, (a_tag("T" * 40, name=long, goes=long, part_no="9" * 60), a_tag("0300"))))
    assert len(words(content)) == 1
    assert len(words(labels.pdf(labels.Labels(STAMP, (a_label("T" * 40, what=long, zones=long),))))) == 1


def test_a_picture_stands_on_its_own_tag() -> None:
    made = BytesIO()
    Image.effect_noise((800, 600), 60).convert("RGB").save(made, "JPEG")
    content = tags.pdf(tags.Tags(STAMP, (a_tag(picture=made.getvalue()), a_tag("0300"))))
    assert len(PdfReader(BytesIO(content)).pages[0].images) == 1


def test_300_tags_take_less_than_10_seconds() -> None:
    many = tags.Tags(STAMP, tuple(a_tag(f"{n:04}") for n in range(300)))
    start = time.process_time()
    content = tags.pdf(many)
    assert time.process_time() - start < 10
    assert len(PdfReader(BytesIO(content)).pages) == 50


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "tags.pdf"
    write_atomically(file, b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_atomically(file, b"new")
    assert file.read_bytes() == b"old"
    assert [each.name for each in tmp_path.iterdir()] == ["tags.pdf"]


def test_the_templates_ask_for_nothing_from_outside() -> None:
    folder = Path(tags.__file__).parent
    for template in folder.glob("*.typ"):
        assert not re.search(r"@preview|https?:", template.read_text(encoding="utf-8")), template.name
    assert sum(font.stat().st_size for font in (folder / "fonts").iterdir()) < 1_500_000
