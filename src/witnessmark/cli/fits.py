"""`witnessmark fits`: what a press or shrink fit holds, and the heat that assembles or releases it.

Exit codes: 0 the heat is allowed, 1 it is refused (and what else to do is said), 2 a size or metal cannot be read.

With --json one object:
  holds: {pressure_mpa, force_n, torque_nm, outer_hoop_mpa, inner_hoop_mpa, working}
  heat: {needed_c, least_c, most_c, cap_c (or null), allowed, refusal, instead: [{what, figure, unit, sentence}],
         grip_share_at_service, grip_share_low, grip_share_high, pressure_at_service_mpa, working}
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--inner", required=True, help="metal of the inner part, such as steel")
    parser.add_argument("--outer", required=True, help="alloy and temper of the outer part, such as 'AZ63A casting'")
    parser.add_argument("--diameter", required=True, help="diameter of the seat, such as '250 mm'")
    parser.add_argument("--outside", required=True, help="outside diameter of the outer part")
    parser.add_argument("--interference", required=True, help="on the diameter, such as '0.3 mm'")
    parser.add_argument("--length", required=True, help="length of the seat")
    parser.add_argument("--bore", help="bore of the inner part; none where it is solid")
    parser.add_argument("--plate", help="plate on the inner part, on one side; it adds twice to the interference")
    parser.add_argument("--clearance", default="0.05 mm", help="gap on the diameter while moving (else 0.05 mm)")
    parser.add_argument("--both", action="store_true", help="the inner part stays in and soaks with the outer one")
    parser.add_argument("--service", default="60 °C", help="warmest temperature in service (else 60 °C)")


def run(args: argparse.Namespace) -> int:
    """Compute and print."""
    from witnessmark.calc.fits import Joint, press_fit, shrink_fit
    from witnessmark.calc.metals import metal
    from witnessmark.calc.slide_home import heat_headline, way_home
    from witnessmark.calc.surface.heat_caps import fahrenheit, heat_cap
    from witnessmark.calc.units import parse_length, parse_temperature
    from witnessmark.cli.main import CannotRun, print_json

    try:
        plate = parse_length(args.plate).mm if args.plate else 0.0
        joint = Joint(
            metal(args.inner),
            metal(args.outer),
            parse_length(args.diameter).mm,
            parse_length(args.outside).mm,
            parse_length(args.interference).mm + 2 * plate,
            parse_length(args.length).mm,
            parse_length(args.bore).mm if args.bore else 0.0,
        )
        holds = press_fit(joint)
        heat = shrink_fit(
            joint,
            parse_length(args.clearance).mm,
            heat_cap(args.outer),
            args.both,
            parse_temperature(args.service).celsius,
        )
    except ValueError as why:
        raise CannotRun(str(why)) from None
    if args.json:
        print_json({"holds": holds.to_dict(), "heat": heat.to_dict()})
        return 0 if heat.allowed else 1
    print(
        f"It holds {holds.pressure_mpa:.1f} MPa on the seat: {holds.force_n / 1000:.1f} kN to press, {holds.torque_nm:.0f} N m to turn."
    )
    print(
        f"{'Both parts' if args.both else 'The outer part'} at {heat.needed_c:.0f} °C ({fahrenheit(heat.needed_c):.0f} °F) open it; "
        f"by the spread of the figures {heat.least_c:.0f} to {heat.most_c:.0f} °C."
    )
    if heat.refusal:
        print(heat_headline(heat, args.both, way_home(joint, parse_length(args.clearance).mm, heat_cap(args.outer))))
        print(f"  {heat.refusal}")
    for way in heat.instead:
        print(f"  Instead: {way.sentence}")
    print(
        f"At {args.service} {heat.grip_share_at_service:.0%} of the interference is left ({heat.grip_share_low:.0%} to {heat.grip_share_high:.0%})."
    )
    for caution in heat.cautions:
        print(f"  {caution}")
    return 0 if heat.allowed else 1
