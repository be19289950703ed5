"""`rivet joint`: what one rivet of a row carries, and beside it another in diameter, alloy, head, system or hole."""

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.calc.fasteners.compare import RowRivet
    from witnessmark.calc.fasteners.joint import Sheet
    from witnessmark.calc.working import Answer

HEADS = ("protruding", "dimpled", "countersunk")


def take_figures(joint: argparse.ArgumentParser, mm: Callable[[str], float]) -> None:
    """Say what the joint and both its rivets are made of."""
    for name in ("diameter", "pitch", "edge"):
        joint.add_argument(f"--{name}", type=mm, required=True, metavar="LENGTH")
    joint.add_argument(
        "--sheet", type=mm, action="append", required=True, metavar="LENGTH", help="again for each layer"
    )
    joint.add_argument("--hole", type=mm, metavar="LENGTH", help="else by the rivet's drill")
    joint.add_argument("--rivet-shear-mpa", type=float, help="else by --alloy")
    joint.add_argument("--alloy", metavar="CODE", help="A, AD, D, DD: driven shear strength of the table")
    joint.add_argument("--material", help="of the sheets, like clad dural; else --tensile-mpa")
    joint.add_argument("--tensile-mpa", type=float)
    joint.add_argument("--bearing-mpa", type=float, help="else 1.5 of the tensile strength")
    joint.add_argument("--sheet-shear-mpa", type=float, help="else 0.6 of the tensile strength")
    joint.add_argument("--double", action="store_true")
    joint.add_argument("--against", type=mm, metavar="LENGTH", help="diameter of the substitute")
    joint.add_argument("--against-hole", type=mm, metavar="LENGTH", help="oversize; else by its drill or the old hole")
    joint.add_argument("--against-shear-mpa", type=float)
    joint.add_argument("--against-alloy", metavar="CODE")
    for before, whose in (("", "rivet"), ("against-", "substitute")):
        joint.add_argument(f"--{before}head", choices=HEADS, default="protruding", help=f"of the {whose}")
        joint.add_argument(f"--{before}head-width", type=mm, metavar="LENGTH", help="of a flush head")
        joint.add_argument(f"--{before}head-angle", type=float, metavar="DEG")
        joint.add_argument(f"--{before}system", choices=("metric", "inch"), default="metric", help="says its drill")


def answer(args: argparse.Namespace) -> "dict[str, Answer]":
    """The row's strength, or with --against both side by side."""
    from witnessmark.calc.fasteners.compare import beside
    from witnessmark.calc.fasteners.joint import row_strength

    sheets, planes = [_sheet(args, t) for t in args.sheet], 2 if args.double else 1
    own = _rivet(args, "", args.diameter, args.hole)
    if args.against is None:
        made = row_strength(
            own.diameter_mm, own.hole_mm, own.shear_mpa, sheets, args.pitch, args.edge, planes, own.countersink
        )
        return {"original": made}
    other = _rivet(args, "against_", args.against, args.against_hole, own)
    return {"beside": beside(own, other, sheets, args.pitch, args.edge, planes)}


def _sheet(args: argparse.Namespace, thickness_mm: float) -> "Sheet":
    from dataclasses import replace

    from witnessmark.calc.fasteners.compare import joint_sheet

    if not args.material and args.tensile_mpa is None:
        raise ValueError("the sheets' strength is missing: give --material or --tensile-mpa")
    made = joint_sheet(args.material or "", thickness_mm, args.tensile_mpa)
    given: dict[str, float] = {}
    if args.bearing_mpa is not None:
        given["fbru_mpa"] = args.bearing_mpa
    if args.sheet_shear_mpa is not None:
        given["fsu_mpa"] = args.sheet_shear_mpa
    return replace(made, **given)


def _rivet(
    args: argparse.Namespace, before: str, diameter_mm: float, hole_mm: float | None, own: "RowRivet | None" = None
) -> "RowRivet":
    from witnessmark.calc.fasteners.compare import RowRivet, alloy_shear_mpa, rivet_name
    from witnessmark.calc.fasteners.tooling import drill_for

    def said(name: str) -> Any:
        return getattr(args, before + name)

    whose = "the substitute" if before else "the rivet"
    shear = args.against_shear_mpa if before else args.rivet_shear_mpa
    if shear is None and said("alloy"):
        shear = alloy_shear_mpa(said("alloy"), whose)
    if shear is None and own is not None:
        shear = own.shear_mpa
    if shear is None:
        raise ValueError(f"the shear strength of {whose} is missing: give --alloy or --rivet-shear-mpa")
    if hole_mm is None:
        hole_mm = drill_for(diameter_mm, said("system") == "inch")[1]
        # A hole cannot be made smaller again.
        hole_mm = max(hole_mm, own.hole_mm) if own is not None else hole_mm
    elif own is not None and hole_mm < own.hole_mm - 0.05:
        raise ValueError(f"the hole is {own.hole_mm:g} mm already: {hole_mm:g} mm is smaller")
    head = said("head")
    return RowRivet(
        rivet_name(diameter_mm, said("system") == "inch", head), diameter_mm, hole_mm, shear, head != "protruding", head == "dimpled",
        said("head_width"), said("head_angle"),
    )  # fmt: skip
