"""Day one: tags read out of photographs drawn with known truth, and what is read where nothing may be.

Pictures at 1, 2, 5 and 12 megapixels, tilts to 40 degrees, dirt, glare, a finger over a part of one code, racks of thirty.
"""

import time
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from witnessmark.bench.figures import SEED, figure
from witnessmark.bench.tag_pictures import Array, drawn_face, photographed, torn

# Single tags by megapixels, a sample and all.
SAMPLE, ALL = {1: 45, 2: 30, 5: 15, 12: 8}, {1: 400, 2: 300, 5: 200, 12: 100}


@dataclass(frozen=True)
class Read:
    """What all pictures gave: tags shown, tags read, tags read that were not there, by size, and the CPU time."""

    shown: int
    right: int
    false: int
    plain: int
    by_size: tuple[tuple[float, float], ...]
    cpu_s_a_picture: float


def _code(tag: str) -> str:
    """Write the code of a tag: the letter by the standard's own recursion, apart from the reader's."""
    signs = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
    power = sum(signs.index(sign) * 2 ** (len(tag) - at) for at, sign in enumerate(tag))
    return f"WM:{tag}:{signs[(1 - power) % 37]}"


def _grey(picture: bytes) -> Array:
    grey = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert grey is not None
    return grey


def _plainly(grey: Array) -> set[str]:
    """Read with the general decoder alone, codes as they stand."""
    import zxingcpp

    return {code.text for code in zxingcpp.read_barcodes(grey)}


@cache
def _measured(full: bool) -> Read:
    from witnessmark.calc.tags.reading import read_tags

    cv2.setNumThreads(1)
    chance = np.random.default_rng(SEED)
    shown = right = false = plain = pictures = 0
    cpu = 0.0
    by_size = []

    def look(picture: bytes, tags: set[str]) -> int:
        nonlocal shown, right, false, plain, pictures, cpu
        grey = _grey(picture)
        before = time.process_time()
        read = {found.tag for found in read_tags(grey)}
        cpu += time.process_time() - before
        pictures += 1
        shown += len(tags)
        right += len(read & tags)
        false += len(read - tags)
        plain += len({_code(tag) for tag in tags} & _plainly(grey))
        return len(read & tags)

    def new_tag() -> str:
        return f"{int(chance.integers(0, 100_000)):0{int(chance.integers(4, 6))}d}"

    for megapixels, count in (ALL if full else SAMPLE).items():
        good = 0
        for _ in range(count):
            tag = new_tag()
            face = drawn_face([_code(tag)] * 2, tag)
            tilt = float(chance.uniform(0, 40))
            good += look(photographed([face], chance, megapixels=megapixels, tilt_degrees=tilt), {tag})
        by_size.append((float(megapixels), good / count))
    for _ in range(8 if full else 2):
        rack = {new_tag() for _ in range(30)}
        faces = [drawn_face([_code(tag)] * 2, tag) for tag in sorted(rack)]
        look(
            photographed(faces, chance, megapixels=12, tilt_degrees=float(chance.uniform(0, 15)), field_mm=560.0), rack
        )
    for _ in range(60 if full else 12):
        nothing = [[], [torn(drawn_face([_code(new_tag())] * 2, ""), chance)], [_strange(new_tag(), chance)]]
        for faces in nothing:
            look(photographed(faces, chance, megapixels=2, tilt_degrees=float(chance.uniform(0, 40))), set())
    return Read(shown, right, false, plain, tuple(by_size), cpu / pictures)


def _strange(tag: str, chance: np.random.Generator) -> Array:
    """Draw a face whose codes are none of the shop's: a wrong letter, another machine's address, a seller's number."""
    right = _code(tag)
    wrong = right[:-1] + ("7" if right[-1] != "7" else "8")
    others = (wrong, f"http://other.shop/t/{tag}/", f"P{tag}-{tag}")
    text = others[int(chance.integers(len(others)))]
    return drawn_face([text] * 2, tag)


@figure("day.tag_read_share", unit="share", goal=0.98, sense=">=")
def tag_read_share(full: bool) -> tuple[float, str]:
    """Tags read out of those shown; the general decoder alone is the baseline in the same run."""
    read = _measured(full)
    sizes = ", ".join(f"{share:.3f} at {size:g}" for size, share in read.by_size)
    return read.right / read.shown, (
        f"{read.shown} tags; {sizes} megapixels; the general decoder alone {read.plain / read.shown:.3f}; "
        f"{read.cpu_s_a_picture:.3f} CPU-s a picture"
    )


@figure("day.false_tag_reads", unit="tags", goal=0)
def false_tag_reads(full: bool) -> tuple[float, str]:
    """Tags read that no picture showed, torn codes, strange codes and bare benches among them."""
    read = _measured(full)
    return float(read.false), f"over {read.shown} tags shown and {(60 if full else 12) * 3} pictures that show none"
