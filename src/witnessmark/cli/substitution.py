"""`witnessmark substitution`: sheet, casting or wood beside the original, by strength, stiffness and mass; couples, bends.

Exit codes: 0 computed, 2 a material, thickness or metal is not held or cannot be read.

With --json one object:
  thicknesses: [{equal_in, exact_mm, gauge_in (or null), metric_mm (or null), mass_ratio}], chosen_mm, strength_ratio, bending_strength_ratio,
  stiffness_ratio, bending_stiffness_ratio, mass_ratio, mass_change_kg_m2, couples, couple_words: [str],
  bend, bend_words, casting: {inspection, factor, words, source, status} or null, hand_over, working
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument(
        "--old", required=True, help="what the original is of, such as AZ31B-H24, AZ63A-T6 casting, spruce"
    )
    parser.add_argument("--thickness", required=True, help="its thickness, such as '1 mm'")
    parser.add_argument(
        "--new", required=True, help="what it would be of, such as 2024-T3, A356-T6 casting, birch plywood 3-ply"
    )
    parser.add_argument("--new-thickness", help="thickness chosen; else the inch sheet that is equal in strength")
    parser.add_argument("--old-strength", help="tensile strength of the original, where the shop knows it")
    parser.add_argument("--new-strength", help="tensile strength of the new sheet, by its certificate")
    parser.add_argument(
        "--inspection", default="", help="how each new casting is looked at: visual, penetrant, radiographic"
    )
    parser.add_argument("--touches", action="append", default=[], help="what it touches; may be given several times")


def run(args: argparse.Namespace) -> int:
    """Compute and print."""
    from witnessmark.calc.substitution import stock, substitute
    from witnessmark.calc.units import parse_length, parse_stress, show_length
    from witnessmark.cli.main import CannotRun, print_json

    try:
        old, new = (
            stock(name, parse_stress(strength).mpa if strength else None)
            for name, strength in ((args.old, args.old_strength), (args.new, args.new_strength))
        )
        chosen = parse_length(args.new_thickness).mm if args.new_thickness else None
        answer = substitute(old, parse_length(args.thickness).mm, new, chosen, args.touches, args.inspection)
    except ValueError as why:
        raise CannotRun(str(why)) from None
    if args.json:
        print_json(answer.to_dict())
        return 0
    for each in answer.thicknesses:
        gauge = f", inch sheet {each.gauge_in:.3f} in" if each.gauge_in else ""
        gauge += f", metric sheet {each.metric_mm:g} mm" if each.metric_mm else ""
        print(f"  equal {each.equal_in}: {show_length(each.exact_mm)}{gauge}, {each.mass_ratio:.2f} of the mass")
    print(
        f"{show_length(answer.chosen_mm)} of {new.name}: {answer.strength_ratio:.2f} of the strength, "
        f"{answer.bending_stiffness_ratio:.2f} of the bending stiffness, {answer.mass_ratio:.2f} of the mass."
    )
    print(f"  {answer.bend_words}")
    for words in (*answer.couple_words, *answer.cautions, f"Hand over to: {answer.hand_over}."):
        print(f"  {words}")
    return 0
