"""Decorative chrome as a route of its own: what polishing takes, what plate gives, plugs, pairs, trial fits."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.calc.working import Answer, working

ASK = "ask the engineer: it carries a load"
# Taken by polishing sound metal; given by nickel and by chrome: least and most, each side.
POLISH_UM = (10.0, 50.0)
NICKEL_UM = (10.0, 40.0)
CHROME_UM = (0.13, 0.5)


@dataclass(frozen=True)
class Decorative(Answer):
    """What decorative chrome does to a part: ranges, and what it asks."""

    lost_least_um: float
    lost_most_um: float
    gained_least_um: float
    gained_most_um: float
    asks_engineer: bool
    steps: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """Say both ranges, and what they leave of the size."""
        return (
            f"Polishing takes {self.lost_least_um:.0f} to {self.lost_most_um:.0f} µm a side, nickel and chrome give "
            f"{self.gained_least_um:.0f} to {self.gained_most_um:.0f} µm: between {self.lost_most_um - self.gained_least_um:.0f} µm "
            f"a side smaller and {self.gained_most_um - self.lost_least_um:.0f} µm larger than before. Ranges, not limits."
        )


def decorative_chrome(carries_load: bool, pair: bool, slots_or_holes: bool) -> Decorative:
    """Return the route of a part that is polished and chromed for its looks.

    Parameters
    ----------
    carries_load : bool
        A belt anchor, hinge pin, seat stop or the like. [-]
    pair : bool
        It has an opposite that must look the same. [-]
    slots_or_holes : bool
        It has slots or holes that fill with plate. [-]

    Returns
    -------
    Decorative
        Metal lost in polishing and gained in plate as ranges, and the steps in order.

    Notes
    -----
    Nickel of 10 to 40 um under chrome of 0.13 to 0.5 um: the classes of ASTM B456. What polishing takes is from memory:
    10 to 50 um on sound metal, far more on pits. Decorative chrome counts as plating for embrittlement.

    Examples
    --------
    >>> answer = decorative_chrome(carries_load=True, pair=False, slots_or_holes=False)
    >>> answer.asks_engineer, answer.steps[0]
    (True, 'ask the engineer: it carries a load')

    References
    ----------
    plating-specs
    decorative-practice
    """
    steps = [ASK] if carries_load else []
    steps += ["trial fit against its neighbour", "measure"]
    if slots_or_holes:
        steps.append("plug slots and holes")
    steps += [
        "polish and measure",
        "decorative chrome, both of the pair in one shipment" if pair else "decorative chrome",
        "measure",
    ]
    if slots_or_holes:
        steps.append("unplug slots and holes, chase what filled")
    steps.append("trial fit against its neighbour")
    lost, gained = POLISH_UM, (NICKEL_UM[0] + CHROME_UM[0], NICKEL_UM[1] + CHROME_UM[1])
    return Decorative(
        working=working(
            "after = before - lost in polishing + nickel + chrome, each side",
            [
                ("lost in polishing", f"{lost[0]:g} to {lost[1]:g}", "um", "from memory"),
                ("nickel", f"{NICKEL_UM[0]:g} to {NICKEL_UM[1]:g}", "um", "ASTM B456 classes; thinnest from memory"),
                ("chrome", f"{CHROME_UM[0]:g} to {CHROME_UM[1]:g}", "um", "ASTM B456-03"),
            ],
            ("plating-specs", "decorative-practice"),
            (
                "Decorative chrome counts as plating: hardened steel, springs and case-hardened parts embrittle in it too.",
                "Pits are polished out deeper than that: measure before and after.",
            ),
            "Ranges, not limits: measure before and after.",
        ),
        lost_least_um=lost[0],
        lost_most_um=lost[1],
        gained_least_um=gained[0],
        gained_most_um=gained[1],
        asks_engineer=carries_load,
        steps=tuple(steps),
    )
