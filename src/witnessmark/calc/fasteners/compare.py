"""One row's rivet and one substitute side by side: what each carries, which way to fail governs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.flush import Seating, seating
from witnessmark.calc.fasteners.holes import EdgeCheck, edge_distance
from witnessmark.calc.fasteners.joint import Countersink, RowStrength, Sheet, row_strength
from witnessmark.calc.fasteners.length import INCH_STEP_MM, thirtyseconds
from witnessmark.calc.substitution import sheet
from witnessmark.calc.tables import load_table
from witnessmark.calc.working import Answer, working

MPA_PER_KSI = 6.894757
BEARING_OF_TENSILE, SHEAR_OF_TENSILE = 1.5, 0.6
FILLS = 1.1


@dataclass(frozen=True)
class RivetAlloy:
    """A rivet alloy with the shear strength it has when driven."""

    code: str
    alloy: str
    shear_mpa: float
    status: str


@dataclass(frozen=True)
class RowRivet:
    """A rivet as it would be driven in the row; a flush one sits in a countersink unless it is `dimpled`."""

    name: str
    diameter_mm: float
    hole_mm: float
    shear_mpa: float
    flush: bool = False
    dimpled: bool = False
    head_mm: float | None = None
    head_deg: float | None = None

    @property
    def countersink(self) -> Countersink | None:
        """The seat that is cut for its head, where there is one and its head is known."""
        if not self.flush or self.dimpled or self.head_mm is None or self.head_deg is None:
            return None
        return Countersink(self.head_mm, self.head_deg)


@dataclass(frozen=True)
class Beside(Answer):
    """The row with its rivet and with the substitute; the ratio is the substitute's load over the original's.

    `seat` is the substitute's flush head in the seat of the original, where both heads are known.
    """

    original: RowStrength
    substitute: RowStrength
    original_edge: EdgeCheck
    substitute_edge: EdgeCheck
    ratio: float
    sentence: str
    seat: Seating | None = None


def rivet_alloys() -> tuple[RivetAlloy, ...]:
    """Return the rivet alloys whose shear strength is known.

    Returns
    -------
    tuple of RivetAlloy
        With the status of each figure.

    Examples
    --------
    >>> [each.code for each in rivet_alloys()][:2]
    ['A', 'AD']

    References
    ----------
    rivet-materials
    """
    return tuple(
        RivetAlloy(
            row["code"],
            row["alloy"],
            round(float(row["Fsu_driven_ksi"]) * MPA_PER_KSI, 1),
            row["Fsu_status"] or row["status"],
        )
        for row in load_table("rivet_materials").rows
        if row["Fsu_driven_ksi"]
    )


def rivet_name(diameter_mm: float, inch: bool, head: str) -> str:
    """Name a rivet of the comparison as the trade says it.

    Parameters
    ----------
    diameter_mm : float
        Nominal diameter. [mm]
    inch : bool
        True for an inch rivet. [-]
    head : str
        Its head in a word. [-]

    Returns
    -------
    str
        Such as `1/8 in countersunk` or `3.5 mm protruding`.

    Examples
    --------
    >>> rivet_name(3.175, True, "dimpled")
    '1/8 in dimpled'

    References
    ----------
    none: words only.
    """
    steps = round(diameter_mm / INCH_STEP_MM)
    if inch and steps and abs(diameter_mm - steps * INCH_STEP_MM) < 0.02:
        return f"{thirtyseconds(steps)} in {head}"
    return f"{diameter_mm:g} mm {head}"


def alloy_shear_mpa(code: str, whose: str) -> float:
    """Return the driven shear strength of an alloy by its code.

    Parameters
    ----------
    code : str
        Code of the table, such as `AD`. [-]
    whose : str
        Whose alloy it is, for the refusal. [-]

    Returns
    -------
    float
        Shear strength. [MPa]

    Raises
    ------
    ValueError
        A code that the table does not hold.

    Examples
    --------
    >>> round(alloy_shear_mpa("AD", "the rivet"))
    207

    References
    ----------
    rivet-materials
    """
    for each in rivet_alloys():
        if each.code == code.upper():
            return each.shear_mpa
    raise ValueError(f"the alloy of {whose} is not known: look at the head mark and pick it")


def joint_sheet(material: str, thickness_mm: float, tensile_mpa: float | None = None) -> Sheet:
    """Return a sheet of a joint from its material's name, or from a tensile strength that somebody vouches for.

    Parameters
    ----------
    material : str
        As written in the stack; may be empty where the strength is given. [-]
    thickness_mm : float
        Thickness. [mm]
    tensile_mpa : float or None
        Tensile strength where it is known. [MPa]

    Returns
    -------
    Sheet
        Bearing at 1.5 and shear at 0.6 of the tensile strength, from memory.

    Raises
    ------
    ValueError
        No figures are held for the material and none were given.

    Examples
    --------
    >>> joint_sheet("clad dural", 1.2).ftu_mpa
    427.0

    References
    ----------
    sheet-strengths
    joint-compare-practice
    """
    tensile = tensile_mpa if tensile_mpa is not None else sheet(material).ultimate_mpa
    return Sheet(thickness_mm, tensile, BEARING_OF_TENSILE * tensile, SHEAR_OF_TENSILE * tensile)


def beside(
    original: RowRivet,
    substitute: RowRivet,
    sheets: Sequence[Sheet],
    pitch_mm: float,
    edge_mm: float,
    planes: int = 1,
) -> Beside:
    """Return the row's strength with its own rivet and with a substitute.

    Parameters
    ----------
    original : RowRivet
        Rivet of the row. [-]
    substitute : RowRivet
        Rivet asked about. [-]
    sheets : sequence of Sheet
        The sheets that carry the load, outermost first. [-]
    pitch_mm : float
        From rivet to rivet. [mm]
    edge_mm : float
        From the centre of a hole to the edge. [mm]
    planes : int
        1 for single shear, 2 for double. [-]

    Returns
    -------
    Beside
        Both rows, their edge distances in their own diameters, and the ratio.

    Raises
    ------
    ValueError
        What `row_strength` refuses, or a hole that a rivet would not fill.

    Notes
    -----
    A countersink lies in the first sheet. A dimple is taken to cost no bearing.

    Examples
    --------
    >>> dural = joint_sheet("dural", 1.0)
    >>> found = beside(
    ...     RowRivet("3.0", 3.0, 3.1, 234.0), RowRivet("3.5", 3.5, 3.6, 234.0), [dural, dural], 20.0, 9.0
    ... )
    >>> found.original.governs, round(found.ratio, 2)
    ('shear', 1.31)

    References
    ----------
    joint-statics
    joint-compare-practice
    bs5950-countersunk
    """
    for rivet in (original, substitute):
        if rivet.hole_mm > FILLS * rivet.diameter_mm + 1e-9:
            raise ValueError(
                f"a rivet of {rivet.diameter_mm:g} mm does not fill a hole of {rivet.hole_mm:g} mm: "
                f"past {FILLS:g} D nothing is reckoned"
            )
    first, second = (
        row_strength(
            each.diameter_mm, each.hole_mm, each.shear_mpa, sheets, pitch_mm, edge_mm, planes, each.countersink
        )
        for each in (original, substitute)
    )
    edges = [edge_distance(edge_mm, each.diameter_mm, each.flush) for each in (original, substitute)]
    ratio = second.load_n / first.load_n
    cautions = [
        f"{each.name}: {edge.sentence}"
        for each, edge in zip((original, substitute), edges, strict=True)
        if edge.cautions
    ]
    for each, made in ((original, first), (substitute, second)):
        if each.flush and not each.dimpled and each.countersink is None:
            cautions.append(
                f"{each.name}: its head's width and angle are not given, so what its countersunk hole loses in bearing "
                "is not in these figures."
            )
        cautions += [f"{each.name}: {c}" for c in made.cautions if c.startswith("The countersink")]
    seat = None
    if original.flush and not substitute.flush:
        cautions.append(f"{substitute.name} does not lie flat over a dimple or a countersink, and stands in the wind.")
    elif substitute.flush and not original.flush:
        cautions.append(f"{substitute.name} wants a dimple or a countersink, which the row does not have.")
    elif original.head_mm and original.head_deg and substitute.head_mm and substitute.head_deg:
        seat = seating(
            substitute.head_mm,
            substitute.head_deg,
            original.head_mm,
            original.head_deg,
            substitute.hole_mm,
            substitute.diameter_mm,
        )
        if not seat.accepted:
            cautions.append(f"{substitute.name} in the seat of {original.name}: {seat.sentence}")
    cautions.append("A comparison for whoever is asked to decide; it is no leave to substitute.")
    sentence = (
        f"A rivet of the row carries {first.load_n:,.0f} N, {first.governs} governs; "
        f"with {substitute.name} {second.load_n:,.0f} N, {second.governs} governs: {100 * ratio:.0f} in a hundred."
    )
    return Beside(
        working=working(
            "substitute's least load over the original's least load",
            [
                (f"{original.name}, least", round(first.load_n), "N", first.governs),
                (f"{substitute.name}, least", round(second.load_n), "N", second.governs),
                ("ratio", round(ratio, 3), "-", "computed"),
            ],
            tuple(
                dict.fromkeys(
                    (
                        *first.working.sources,
                        *second.working.sources,
                        "sheet-strengths",
                        "rivet-materials",
                        "joint-compare-practice",
                    )
                )
            ),
            tuple(cautions),
            "Static strength of one row, one rivet with its strip of sheet; no fatigue.",
        ),
        original=first,
        substitute=second,
        original_edge=edges[0],
        substitute_edge=edges[1],
        ratio=ratio,
        sentence=sentence,
        seat=seat,
    )
