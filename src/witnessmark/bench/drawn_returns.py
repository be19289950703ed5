"""Returns from a plater, drawn by chance: bags with near twins, a coat, pieces lost, foreign and strayed.

It shares no code with the matcher: sizes, growth and errors are written out here, and answers are kept beside the figures.
"""

import random
from dataclasses import dataclass

COAT_MM = 0.008
TWIN_GAPS_MM = (0.06, 0.10, 0.15, 0.20, 0.30, 0.40)


@dataclass(frozen=True)
class DrawnBag:
    """One bag before it leaves: what was read on each of its pieces, and whether it has a near twin."""

    name: str
    before: tuple[tuple[float, float], ...]
    twin: bool


@dataclass(frozen=True)
class DrawnPiece:
    """One piece that came back: its bag (empty for a stranger), what is read on it, with which bag's basket it lay."""

    home: str
    diameter_mm: float
    length_mm: float
    lay_with: str
    real_mm: tuple[float, float]


@dataclass(frozen=True)
class DrawnReturn:
    """What left and what came back, with the truth."""

    bags: tuple[DrawnBag, ...]
    back: tuple[DrawnPiece, ...]
    lost: tuple[str, ...]
    seed: int


def draw(
    seed: int, noise_mm: float, *, pieces: int = 400, bags: int = 60, twins: int = 15, lost: float = 0.01,
    foreign: float = 0.01, strayed: float = 0.02,
) -> DrawnReturn:  # fmt: skip
    """Draw one shipment and its return."""
    chance = random.Random(seed)  # noqa: S311  chance, not a secret
    sizes = [[chance.uniform(3, 12), chance.uniform(8, 60)] for _ in range(bags)]
    for n in range(twins):
        sizes[2 * n + 1] = list(sizes[2 * n])
        sizes[2 * n + 1][chance.randrange(2)] += chance.choice(TWIN_GAPS_MM)
    names = [f"B{n:04d}" for n in range(bags)]
    count = [pieces // bags + (n < pieces % bags) for n in range(bags)]
    drawn, back, missing = [], [], []
    for n in range(bags):
        real = [[size + chance.gauss(0, 0.01) for size in sizes[n]] for _ in range(count[n])]
        read = tuple((x + chance.gauss(0, noise_mm), y + chance.gauss(0, noise_mm)) for x, y in real)
        drawn.append(DrawnBag(names[n], read, n < 2 * twins))
        for x, y in real:
            if chance.random() < lost:
                missing.append(names[n])
                continue
            grown = 2 * (COAT_MM + chance.gauss(0, 0.002))
            lay = names[(n + 1) % bags] if chance.random() < strayed else names[n]
            now = (x + grown + chance.gauss(0, noise_mm), y + grown + chance.gauss(0, noise_mm))
            back.append(DrawnPiece(names[n], *now, lay, (x + grown, y + grown)))
    for _ in range(sum(chance.random() < foreign for _ in range(pieces))):
        odd = (chance.uniform(3, 12), chance.uniform(8, 60))
        back.append(DrawnPiece("", *odd, chance.choice(names), odd))
    chance.shuffle(back)
    return DrawnReturn(tuple(drawn), tuple(back), tuple(missing), seed)


def read_again(drawn: DrawnReturn, piece: int, feature: int, noise_mm: float, turn: int) -> float:
    """What a fresh reading of one piece says: its real size (0 diameter, 1 length) with an error of its own."""
    chance = random.Random(f"{drawn.seed} {piece} {feature} {turn}")  # noqa: S311  chance, not a secret
    return drawn.back[piece].real_mm[feature] + chance.gauss(0, noise_mm)


def nearest_bag(drawn: DrawnReturn) -> float:
    """What a patient person does: each piece to the bag whose mean is nearest; the share that comes right."""
    means = {
        bag.name: tuple(sum(read[k] for read in bag.before) / len(bag.before) for k in (0, 1)) for bag in drawn.bags
    }
    right = 0
    for piece in drawn.back:
        now = (piece.diameter_mm, piece.length_mm)
        best = min(means, key=lambda name: sum((now[k] - means[name][k]) ** 2 for k in (0, 1)))
        right += best == piece.home
    return right / len(drawn.back)
