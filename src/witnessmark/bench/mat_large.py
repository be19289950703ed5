"""The largest pictures that phones take: what reading one of 50 megapixels, held on its side, takes in memory and CPU."""

import io
import os
import re
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

import numpy as np
from PIL import Image

from witnessmark.bench.figures import figure
from witnessmark.bench.mat_pictures import jpeg
from witnessmark.bench.mat_scenes import drawn, random_scene

LARGE = (8160, 6120)
SEED, PIECES, TILT_DEG = 77, 40, 12.0
# The kernel's own mark of this process; what the parent took before the start does not count.
_READ_ONE = """
import pathlib, re, resource, sys, time
from witnessmark.calc.mat.reading import read_mat
began = time.process_time()
found = read_mat(open(sys.argv[1], "rb").read())
took = time.process_time() - began
status = pathlib.Path("/proc/self/status")
kept = status.exists() and int(re.search(r"VmHWM:\\s+(\\d+)", status.read_text())[1]) * 1024
print("read", found.count, kept or resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, took)
"""


def turned_large(data: bytes, size: tuple[int, int] = LARGE) -> bytes:
    """Enlarge a picture to so many pixels and lay it on its side, as a phone that was held upright writes it (EXIF 6)."""
    with Image.open(io.BytesIO(data)) as image:
        large = image.convert("RGB").resize(size, Image.Resampling.BICUBIC)
    return jpeg(np.asarray(large.transpose(Image.Transpose.ROTATE_90)), turned=6)


def read_alone(data: bytes) -> tuple[int, float, float]:
    """Read a picture in a process of its own: pieces, most memory in GB, CPU in seconds."""
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as folder:
        file = Path(folder) / "picture"
        file.write_bytes(data)
        done = subprocess.run(
            [sys.executable, "-c", _READ_ONE, str(file)],
            env=dict(os.environ),
            capture_output=True,
            text=True,
            check=True,
        )
    told = re.search(r"read (\d+) (\d+) ([0-9.]+)", done.stdout)
    assert told is not None, done.stdout
    return int(told[1]), int(told[2]) / 1e9, float(told[3])


@cache
def _measured() -> tuple[int, float, float]:
    data = turned_large(jpeg(drawn(random_scene(SEED, PIECES, TILT_DEG))))
    read_alone(data)  # uncounted: what the fit is compiled to is kept on disk from the first picture ever read
    return read_alone(data)


@figure("mat.peak_gb_at_50_mp", unit="GB", goal=1.5)
def peak(full: bool) -> tuple[float, str]:
    """Most memory that a process of its own takes to read one picture of 50 megapixels, held on its side."""
    count, gigabytes, _cpu = _measured()
    return gigabytes, f"{LARGE[0]} by {LARGE[1]} pixels, EXIF orientation 6, {count} pieces"


@figure("mat.cpu_s_at_50_mp", unit="s", goal=8)
def cpu(full: bool) -> tuple[float, str]:
    """CPU that reading one such picture takes, opening it included."""
    count, _gigabytes, seconds = _measured()
    return seconds, f"{LARGE[0]} by {LARGE[1]} pixels, EXIF orientation 6, {count} pieces"
