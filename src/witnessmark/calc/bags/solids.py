"""Mass and surface of a piece from its dimensions, and whether magnet and density fit what the record says it is."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from witnessmark.calc.tables import load_table
from witnessmark.calc.working import Answer, working

Magnet = Literal["sticks", "none", "not tried"]
# Threads, radii and a rule read to half a millimetre: the simple solid misses the real one by about this much.
SHAPE_DOUBT = 0.06

# Shape -> the dimensions it needs, in the order in which they are read off.
SHAPES: Mapping[str, tuple[str, ...]] = {
    "bar": ("diameter", "length"),
    "tube": ("outside diameter", "wall", "length"),
    "plate": ("length", "width", "thickness"),
    "bolt": ("shank diameter", "length under the head", "head across flats", "head height"),
}


@dataclass(frozen=True)
class Solid(Answer):
    """A simple solid that stands for the piece."""

    shape: str
    volume_mm3: float
    surface_mm2: float


@dataclass(frozen=True)
class MaterialCheck(Answer):
    """What magnet and density say of the material; `agrees` is None where they cannot tell."""

    density_kg_m3: float | None
    recorded: tuple[str, ...]
    could_be: tuple[str, ...]
    agrees: bool | None
    sentence: str


def solid(shape: str, dimensions_mm: tuple[float, ...]) -> Solid:
    """Work out volume and surface of a simple solid.

    Parameters
    ----------
    shape : str
        One of `SHAPES`. [-]
    dimensions_mm : tuple of float
        The shape's dimensions in their order. [mm]

    Returns
    -------
    Solid
        Volume and whole surface; the head of a bolt is a hexagon.

    Raises
    ------
    ValueError
        An unknown shape, too few or too many dimensions, one that is not above zero, or a wall thicker than its tube.

    Examples
    --------
    >>> round(solid("bar", (8.0, 50.0)).volume_mm3)
    2513
    >>> round(solid("tube", (28.0, 1.5, 100.0)).surface_mm2)
    16900

    References
    ----------
    simple-solids
    """
    names = SHAPES.get(shape)
    if names is None:
        raise ValueError(f"'{shape}' is no shape that is worked out here: {', '.join(SHAPES)}")
    if len(dimensions_mm) != len(names):
        raise ValueError(f"a {shape} needs {len(names)} dimensions: {', '.join(names)}")
    for name, value in zip(names, dimensions_mm, strict=True):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"the {name} must be above zero, not {value:g} mm")
    if shape == "bar":
        dia, length = dimensions_mm
        volume, surface = math.pi / 4 * dia**2 * length, math.pi * dia * (length + dia / 2)
        formula = "V = pi/4 d2 L; A = pi d (L + d/2)"
    elif shape == "tube":
        outside, wall, length = dimensions_mm
        inside = outside - 2 * wall
        if inside < 0:
            raise ValueError(f"a wall of {wall:g} mm does not fit into a tube of {outside:g} mm")
        volume = math.pi / 4 * (outside**2 - inside**2) * length
        surface = math.pi * (outside + inside) * length + math.pi / 2 * (outside**2 - inside**2)
        formula = "V = pi/4 (D2 - d2) L; A = pi (D + d) L + both rims"
    elif shape == "plate":
        length, width, thick = dimensions_mm
        volume, surface = length * width * thick, 2 * (length * width + length * thick + width * thick)
        formula = "V = l w t; A = 2 (l w + l t + w t)"
    else:
        dia, length, flats, high = dimensions_mm
        if flats <= dia:
            raise ValueError(f"a head {flats:g} mm across flats does not hold on a shank of {dia:g} mm")
        hexagon = math.sqrt(3) / 2 * flats**2
        volume = math.pi / 4 * dia**2 * length + hexagon * high
        surface = math.pi * dia * length + 2 * hexagon + 2 * math.sqrt(3) * flats * high
        formula = "shank as a bar; head a hexagon: area = 0.866 s2, round it 3.464 s"
    rows: list[tuple[str, float | int | str, str, str]] = [
        (name, value, "mm", "measured") for name, value in zip(names, dimensions_mm, strict=True)
    ]
    rows.append(("volume", round(volume, 1), "mm3", "worked out"))
    rows.append(("surface", round(surface, 1), "mm2", "worked out"))
    return Solid(
        working=working(
            formula,
            rows,
            ("simple-solids",),
            ("Threads, radii and holes are left out.",),
        ),
        shape=shape,
        volume_mm3=volume,
        surface_mm2=surface,
    )


@cache
def _families() -> tuple[tuple[str, re.Pattern[str], float, float, str, str], ...]:
    made = []
    for row in load_table("material_families").rows:
        words = "|".join(re.escape(word) for word in sorted(row["words"].split(";"), key=len, reverse=True))
        pattern = re.compile(rf"(?<![\w-])(?:{words})(?![\w])", re.IGNORECASE)
        low, high = float(row["density_low_kg_m3"]), float(row["density_high_kg_m3"])
        made.append((row["family"], pattern, low, high, row["magnet"], row["source"]))
    return tuple(made)


def families_of(material: str) -> tuple[str, ...]:
    """Read which metals the words of a material name.

    Parameters
    ----------
    material : str
        As written in the list. [-]

    Returns
    -------
    tuple of str
        Families of `material_families.csv`; several where several are named, none where no word is known.

    Examples
    --------
    >>> families_of("steel and bronze"), families_of("stainless steel"), families_of("elektron-type Mg casting")
    (('steel', 'bronze'), ('stainless',), ('magnesium',))

    References
    ----------
    none: words only.
    """
    text, found = material.lower(), []
    for family, pattern, *_ in _families():
        if pattern.search(text):
            found.append(family)
            text = pattern.sub(" ", text)
            if family == "stainless":  # "stainless steel" is one metal
                text = re.sub(r"\bsteel\b", " ", text)
    return tuple(found)


def told_apart(materials: Sequence[str]) -> str:
    """Say what tells these materials apart, and what does not.

    Parameters
    ----------
    materials : sequence of str
        As written, each once. [-]

    Returns
    -------
    str
        A magnet only between what it draws and what it does not; within either, density, mark or hardness.

    Examples
    --------
    >>> told_apart(["4130 tube", "forged steel"])
    'A magnet does not part 4130 tube and forged steel: read the mark, or take a hardness reading.'
    >>> told_apart(["dural 1.2", "steel"])
    'A magnet parts steel from dural 1.2.'

    References
    ----------
    material-densities
    density-practice
    """
    magnet = {family: pull for family, _, _, _, pull, _ in _families()}
    by: dict[str, list[str]] = {"sticks": [], "none": [], "unsure": []}
    for each in materials:
        pulls = {magnet[family] for family in families_of(each)}
        by[pulls.pop() if pulls in ({"sticks"}, {"none"}) else "unsure"].append(each)
    said = []
    if by["sticks"] and by["none"]:
        said.append(f"A magnet parts {_and(by['sticks'])} from {_and(by['none'])}.")
    if len(by["sticks"]) > 1:
        said.append(f"A magnet does not part {_and(by['sticks'])}: read the mark, or take a hardness reading.")
    if len(by["none"]) > 1:
        families = {families_of(each) for each in by["none"]}
        by_mass = (
            "mass and size tell them, or the mark"
            if len(families) == len(by["none"])
            else "read the mark, or take a hardness reading"
        )
        said.append(f"A magnet draws none of {_and(by['none'])}: {by_mass}.")
    if by["unsure"]:
        said.append(f"A magnet says nothing sure of {_and(by['unsure'])}: read the mark.")
    return " ".join(said)


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def mass_of(material: str, volume_mm3: float) -> float | None:
    """Estimate the mass of one piece from its volume, by the middle of its metal's density span.

    Parameters
    ----------
    material : str
        As written in the list. [-]
    volume_mm3 : float
        Volume of one piece. [mm3]

    Returns
    -------
    float or None
        Mass in g; None where no metal or more than one is named.

    Raises
    ------
    ValueError
        A volume that is not above zero.

    Examples
    --------
    >>> round(mass_of("steel", 1000.0), 2)
    7.82
    >>> mass_of("fabric", 1000.0) is None
    True

    References
    ----------
    material-densities
    """
    if not (math.isfinite(volume_mm3) and volume_mm3 > 0):
        raise ValueError(f"a volume must be above zero, not {volume_mm3}")
    named = families_of(material)
    if len(named) != 1:
        return None
    low, high = next((low, high) for family, _, low, high, *_ in _families() if family == named[0])
    return volume_mm3 * (low + high) / 2 * 1e-6


def check_material(
    material: str, magnet: Magnet, mass_g: float | None = None, volume_mm3: float | None = None
) -> MaterialCheck:
    """Hold magnet and density against the material that the record gives.

    Parameters
    ----------
    material : str
        As written in the list. [-]
    magnet : Magnet
        Whether a magnet sticks. [-]
    mass_g : float or None
        Mass of one piece. [g]
    volume_mm3 : float or None
        Volume of one piece, from its dimensions. [mm3]

    Returns
    -------
    MaterialCheck
        The density, what it could be by both, and whether what the record says is among them.

    Raises
    ------
    ValueError
        A mass or volume that is not above zero, or a word for the magnet that is not known.

    Notes
    -----
    A density counts as fitting within 6 % of a family's span, because a simple solid stands for the piece. Old plate
    can make a magnet stick (nickel) or not change it (cadmium, zinc): a check, no proof.

    Examples
    --------
    >>> check_material("steel", "none").sentence
    'A magnet does not stick: not steel. It could be stainless, aluminium, magnesium, brass, bronze, copper, titanium, lead.'
    >>> check_material("dural sheet 1.0", "none", 27.8, 10000.0).agrees
    True

    References
    ----------
    material-densities
    density-practice
    """
    for name, value in (("mass", mass_g), ("volume", volume_mm3)):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError(f"the {name} must be above zero, not {value}")
    if magnet not in ("sticks", "none", "not tried"):
        raise ValueError(f"a magnet sticks, none or was not tried, not '{magnet}'")
    density = None if mass_g is None or volume_mm3 is None else mass_g / volume_mm3 * 1e6
    recorded = families_of(material)
    could = tuple(
        family
        for family, _, low, high, pulls, _ in _families()
        if (magnet == "not tried" or pulls in ("either", magnet))
        and (density is None or low * (1 - SHAPE_DOUBT) <= density <= high * (1 + SHAPE_DOUBT))
    )
    tried = magnet != "not tried" or density is not None
    agrees = any(family in could for family in recorded) if recorded and tried else None
    return MaterialCheck(
        working=working(
            "density = mass / volume; held against the span of each metal, and against the magnet",
            [
                ("magnet", magnet, "-", "tried"),
                ("mass of one", "not weighed" if mass_g is None else mass_g, "g", "weighed"),
                ("volume of one", "not measured" if volume_mm3 is None else round(volume_mm3, 1), "mm3", "dimensions"),
                ("density", "not known" if density is None else round(density), "kg/m3", "worked out"),
            ],
            ("material-densities", "density-practice"),
            ("Old plate can deceive a magnet. This is a check, no proof.",),
            "fits within 6 % of a metal's span",
        ),
        density_kg_m3=density,
        recorded=recorded,
        could_be=could,
        agrees=agrees,
        sentence=_check_words(recorded, could, agrees, magnet, density, tried),
    )


def _check_words(
    recorded: tuple[str, ...],
    could: tuple[str, ...],
    agrees: bool | None,
    magnet: Magnet,
    density: float | None,
    tried: bool,
) -> str:
    if not tried:
        return "Neither magnet nor density was tried."
    said = []
    if magnet != "not tried":
        said.append("a magnet sticks" if magnet == "sticks" else "a magnet does not stick")
    if density is not None:
        said.append(f"{density / 1000:.2f} g/cm3")
    head = f"{said[0][0].upper()}{said[0][1:]}" + (f", {said[1]}" if len(said) > 1 else "")
    kinds = ", ".join(could) if could else "no metal of the table"
    if agrees is None:
        return f"{head}: it could be {kinds}. The record does not say what it is."
    if agrees:
        return f"{head}: fits {' and '.join(recorded)}."
    return f"{head}: not {' or '.join(recorded)}. It could be {kinds}."
