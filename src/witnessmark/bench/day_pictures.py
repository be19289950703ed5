"""Old pictures taken in: how many a CPU minute, beside a plain way that decodes each in full."""

import io
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from witnessmark.bench.figures import SEED, figure

PICTURES = 24
_WIDTH, _HEIGHT = 4000, 3000


def _pictures(folder: Path, count: int) -> list[bytes]:
    """Draw pictures of 12 megapixels with the grain and the colours of a phone's, each another."""
    from PIL import Image

    chance = np.random.default_rng(SEED)
    made = []
    for number in range(count):
        coarse = Image.fromarray(chance.integers(20, 235, (45, 60, 3), np.uint8)).resize((_WIDTH, _HEIGHT), 3)
        grain = chance.integers(-9, 10, (_HEIGHT, _WIDTH, 1), np.int16)
        out = io.BytesIO()
        image = Image.fromarray(np.clip(np.asarray(coarse, np.int16) + grain, 0, 255).astype(np.uint8))
        image.save(out, "JPEG", quality=88)
        made.append(out.getvalue())
        (folder / f"old-{number:04}.jpg").write_bytes(made[-1])
    return made


def _plainly(data: bytes) -> None:
    """Decode in full and make a small copy: what a first version would do."""
    from PIL import Image

    with Image.open(io.BytesIO(data)) as image:
        image.convert("RGB").resize((320, 240)).save(io.BytesIO(), "JPEG")


@figure("day.old_pictures_per_cpu_minute", unit="pictures", goal=300, sense=">=")
def old_pictures_per_cpu_minute(full: bool) -> tuple[float, str]:
    """Take a folder in by the command, its start subtracted; the plain way beside it in the same run."""
    import resource

    count = PICTURES * (10 if full else 1)
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as temporary:
        here = Path(temporary)
        (here / "old").mkdir()
        (here / "none").mkdir()
        (here / "lists").mkdir()
        (here / "lists" / "people.csv").write_text("name,role,craft\nMeasurer,lead,\n")
        made = _pictures(here / "old", count)
        own = {
            "WITNESSMARK_DATA": str(here / "data"),
            "WITNESSMARK_DATABASE": "",
            "DJANGO_SETTINGS_MODULE": "witnessmark.settings",
        }

        def cpu_s(*words: str) -> float:
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(
                [sys.executable, "-m", "witnessmark", *words],
                env={**os.environ, **own},
                check=True,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

        cpu_s("load", str(here / "lists"))
        start = cpu_s("pictures-in", str(here / "none"))
        spent = cpu_s("pictures-in", str(here / "old")) - start
        before = time.process_time()
        for data in made:
            _plainly(data)
        plain = time.process_time() - before
    size = sum(map(len, made)) / count / 1e6
    return count / spent * 60, (
        f"{count} pictures of 12 megapixels, {size:.1f} MB each, by the command; decoding each in full for a small copy "
        f"{count / plain * 60:.0f}"
    )
