"""How often a picture with its tag is pressed for: counted in a browser whose camera films tags on a bench.

The tags of the film are drawn by the code library's own writer, on a grey bench; nothing of the reader draws them.
"""

import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from witnessmark.bench.figures import NotMeasured, figure

PICTURES, PICTURES_FULL = 10, 30
_WIDTH, _HEIGHT, _FRAMES_A_TAG = 1280, 720, 12


def film(path: Path, tags: int) -> None:
    """Write a film in which one tag after the other lies on a bench."""
    import cv2
    import numpy as np
    import zxingcpp

    with path.open("wb") as out:
        for number in range(tags):
            drawn = zxingcpp.create_barcode(f"WM:{1001 + number}", zxingcpp.BarcodeFormat.QRCode)
            code = np.pad(np.array(zxingcpp.write_barcode_to_image(drawn, scale=8)), 32, constant_values=255)
            frame = np.full((_HEIGHT, _WIDTH, 3), 110, np.uint8)
            high, wide = code.shape
            frame[200 : 200 + high, 500 : 500 + wide] = code[..., None]
            jpeg = cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, 90])[1].tobytes()
            out.write(jpeg * _FRAMES_A_TAG)


def _env(data: Path) -> dict[str, str]:
    """The surroundings of a program on a record of its own, whatever the one that measures runs in."""
    own = {"WITNESSMARK_DATA": str(data), "WITNESSMARK_DATABASE": "", "DJANGO_SETTINGS_MODULE": "witnessmark.settings"}
    return {**os.environ, **own}


def _witnessmark(data: Path, *words: str) -> Any:
    done = subprocess.run(
        [sys.executable, "-m", "witnessmark", "--data", str(data), *words, "--json"],
        env=_env(data),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"{words[0]} did not run: {done.stdout[-500:]}{done.stderr[-1000:]}")
    return json.loads(done.stdout)


def _told(server: subprocess.Popen[str]) -> dict[str, Any]:
    """Read the one JSON value that `serve --json` says before it waits."""
    assert server.stdout is not None
    said = ""
    for line in server.stdout:
        said += line
        try:
            return dict(json.loads(said))
        except ValueError:
            continue
    raise RuntimeError(f"the screens did not answer: {said[-500:]}")


def _program() -> str:
    """Find the browser; raise NotMeasured where there is none."""
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if importlib.util.find_spec("playwright") is None:
        raise NotMeasured("playwright is not here: `./witnessmark test --install` brings it")
    if program is None:
        raise NotMeasured("no Chromium on this machine: `./witnessmark test --install` brings it")
    return program


@contextmanager
def _filming(data: Path, tags: int) -> Iterator[tuple[Any, dict[str, Any]]]:
    """Serve a record and open a phone's page whose camera films tags; gives the page and what `serve` said."""
    from playwright.sync_api import sync_playwright

    program, filmed = _program(), data.parent / "bench.mjpeg"
    film(filmed, tags)
    server = subprocess.Popen(
        [sys.executable, "-m", "witnessmark", "--data", str(data), "serve", "--port", "0", "--json"],
        env=_env(data),
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        told = _told(server)
        # What else it says is read away, or a full pipe would stop it.
        threading.Thread(target=lambda: server.stdout and server.stdout.read(), daemon=True).start()
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=program,
                args=[
                    "--no-sandbox",
                    "--disable-gpu",
                    "--use-fake-ui-for-media-stream",
                    "--use-fake-device-for-media-stream",
                    f"--use-file-for-fake-video-capture={filmed}",
                ],
            )
            context = browser.new_context(
                base_url=told["address"], viewport={"width": 360, "height": 740}, has_touch=True
            )
            yield context.new_page(), told
            browser.close()
    finally:
        server.terminate()
        server.wait()


@figure("day.taps_per_tagged_picture", unit="presses", goal=2, baseline=3)
def taps_per_tagged_picture(full: bool) -> tuple[float, str]:
    """Count every press of a story from the open screen to the last picture filed under its tag.

    The baseline is the phone's own camera by a file field: one press on the page, two in the camera.
    """
    _program()
    wanted = PICTURES_FULL if full else PICTURES
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as temporary:
        data, lists = Path(temporary) / "data", Path(temporary) / "lists"
        lists.mkdir()
        (lists / "people.csv").write_text("name,role,craft\nMeasurer,lead,\n")
        _witnessmark(data, "load", str(lists))
        with _filming(data, wanted) as (page, _):
            link = next(
                str(value) for value in _witnessmark(data, "sign-in", "Measurer").values() if "/in/" in str(value)
            )
            page.goto("/in/" + link.split("/in/", 1)[1])
            page.get_by_role("button", name="Sign in as").click()
            page.goto("/in/")
            presses = _take(page, wanted)
        tagged = len({tag for one in _last(data) for tag in one})
        filed = sum(bool(one) for one in _last(data))
    note = (
        f"{presses} presses for {filed} pictures filed under {tagged} tags, opening the camera counted; "
        "on plain http, by the phone's own camera: 1 press here and 2 there (the baseline)"
    )
    return presses / filed if filed else float("inf"), note


@figure("day.first_tagged_part_steps", unit="steps", goal=8)
def first_tagged_part_steps(full: bool) -> tuple[float, str]:
    """Count every press and every field filled from the link that `serve` prints to the first tagged part on record."""
    _program()
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as temporary:
        data = Path(temporary) / "data"
        with _filming(data, 1) as (page, told):
            steps: list[str] = []

            def press(role: str, name: str) -> None:
                page.get_by_role(role, name=name).first.click()
                steps.append(name)

            page.goto(told["begin"])
            page.get_by_label("Your name").fill("Measurer")
            steps.append("a name")
            press("button", "Begin the record")
            press("button", "Make a sheet of 24 tags")
            paper = page.get_by_role("link", name="Print 24 tags").get_attribute("href")
            printed = page.request.get(paper)
            if not printed.body().startswith(b"%PDF-"):
                raise RuntimeError("the sheet of tags is no PDF")
            # A browser without a window shows no PDF: the press on it and the way back are counted all the same.
            steps += ["Print 24 tags", "back"]
            press("link", "take its picture")
            press("button", "Open the camera")
            page.locator(".finder video").wait_for(state="visible")
            _until(page, "document.querySelector('.finder video').videoWidth > 0")
            press("button", "Take it")
            _until(page, "Number(document.querySelector('#take').dataset.kept || 0) >= 1")
        tagged = [tag for one in _last(data) for tag in one]
    return float(len(steps)) if tagged == ["1001"] else float("inf"), f"{', '.join(steps)}; on record: {tagged}"


def _take(page: Any, wanted: int) -> int:
    """Press until as many pictures are filed as are wanted; give how many presses the page saw."""
    page.evaluate(
        "window.pressed = 0; addEventListener('click', (e) => { if (e.isTrusted) window.pressed += 1; }, true)"
    )
    page.get_by_role("button", name="Open the camera").click()
    page.locator(".finder video").wait_for(state="visible")
    _until(page, "document.querySelector('.finder video').videoWidth > 0")
    for number in range(1, wanted + 1):
        page.get_by_role("button", name="Take it").click()
        _until(page, f"Number(document.querySelector('#take').dataset.kept || 0) >= {number}")
        time.sleep(0.2)  # the film goes on
    return int(page.evaluate("window.pressed"))


def _until(page: Any, true: str) -> None:
    """Ask until it is so: the page's policy lets nothing poll inside it."""
    for _ in range(600):
        if page.evaluate(true):
            return
        time.sleep(0.1)
    raise RuntimeError(f"it never came to be: {true}")


def _last(data: Path) -> list[list[str]]:
    """The tags under which each picture was filed, out of the record itself."""
    done = subprocess.run(
        [sys.executable, "-c", _ASK],
        env=_env(data),
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    return list(json.loads(done.stdout))


_ASK = """
import json, django
django.setup()
from witnessmark.records.models import PictureIn
print(json.dumps([[use.piece.tag for use in one.photo.uses.all()] for one in PictureIn.objects.all()]))
"""
