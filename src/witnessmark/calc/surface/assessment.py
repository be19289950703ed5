"""What the figures of a finding say: the quoted word, the blend-out, the metal left, and that no limit is published."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.calc.surface.corrosion import BlendOut, Severity, blend_out, severity
from witnessmark.calc.surface.finding_kinds import FIGURES, Read
from witnessmark.calc.tables import load_table
from witnessmark.calc.working import Answer, working


@dataclass(frozen=True)
class Assessment(Answer):
    """What is said of a finding. A word of a manual is never a limit; a share is never a permission."""

    word: Severity | None
    dish: BlendOut | None
    dish_words: str
    left_mm: float | None
    left_share: float | None
    lost_share: float | None
    sentences: tuple[str, ...]
    limit_words: str
    to_engineering: bool


# What is judged by a limit; where none is published, engineering is asked.
NEEDS_A_LIMIT = ("pitting", "exfoliation", "crack", "wear", "hole", "bent", "temper", "glue", "cut")
NO_LIMIT_OF_GLUE = (
    "No limit for open glue joints is published that was read: engineering says what may stay, and a licensed mechanic "
    "closes what is glued anew."
)
# From this hardness a bolt, and from the second any other part, is high strength: no acid, no plating without its own rule.
HIGH_STRENGTH_HRC = (34.0, 40.0)


def _row(item: str) -> Mapping[str, str]:
    return load_table("corrosion_limits").find("item", item)


def _axis(where: str) -> str:
    plain = where.lower()
    if any(word in plain for word in ("wing", "stabil", "horizontal", "float strut")):
        return "its long axis along the span"
    if "fin" in plain.split() or "rudder" in plain:
        return "its long axis upright (from memory: verify)"
    return "its long axis along the fuselage (from memory: verify)"


def assess(kind: str, figures: Mapping[str, Read], where: str = "", limit: str = "") -> Assessment:
    """Say what the figures of a finding mean, and whether engineering is to be asked.

    Parameters
    ----------
    kind : str
        Kind of finding. [-]
    figures : mapping of str to Read
        The newest figures by name. [-]
    where : str
        Zone or place in words, for the long axis of a blend-out. [-]
    limit : str
        The limit as the shop has it in writing, with its paper; empty where nobody published one. [-]

    Returns
    -------
    Assessment
        Sentences in the order they are said; depths are taken at the worse end of their uncertainty.

    Raises
    ------
    ValueError
        A pit that is not shallower than the metal.

    Notes
    -----
    A tenth of the thickness, and the areas of its categories, are one type's figures: quoted as a warning, never a limit.

    Examples
    --------
    >>> seen = assess("pitting", {"pit_depth_mm": Read(0.3, 0.05, "0.3"), "thickness_mm": Read(2.0, None, "2")}, "hull")
    >>> seen.word.word, round(seen.dish.length_least_mm, 2), round(seen.left_share, 3), seen.to_engineering
    ('severe', 7.0, 0.825, True)

    References
    ----------
    corrosion-words
    blend-ratio
    no-limits-published
    edge-distance-2d
    """
    rows: list[tuple[str, float | int | str, str, str]] = [
        (
            name,
            read.value if read.plus_minus is None else f"{read.value:g} ± {read.plus_minus:g}",
            name.rsplit("_", 1)[-1],
            "measured",
        )
        for name, read in figures.items()
        if name != "work_hours"
    ]
    said: list[str] = []
    word = dish = None
    dish_words = ""
    left = share = None
    depth = figures.get("pit_depth_mm") or figures.get("worn_mm")
    thick, remaining = figures.get("thickness_mm"), figures.get("remaining_mm")
    worst = depth.value + (depth.plus_minus or 0.0) if depth else None
    if worst is not None and kind == "pitting":
        word = severity(worst)
        said.append(f"{word.word.capitalize()}, in the word of one type's manual; it is a word, not a limit.")
    if worst is not None and thick is not None and worst < thick.value:
        dish = blend_out(worst, thick.value)
        ratio = _row("blend ratio")["value"]
        dish_words = f"Blend-out at least {dish.length_least_mm:.1f} mm long ({ratio}), elliptical, {_axis(where)}" + (
            "; between close pits the metal goes too." if kind == "pitting" else "."
        )
        said.append(dish_words)
        left, share = dish.remaining_mm, dish.remaining_share
        rows.append(("depth at the worse end", round(worst, 4), "mm", "depth + uncertainty"))
    if remaining is not None:
        low = max(0.0, remaining.value - (remaining.plus_minus or 0.0))
        left = low if left is None else min(left, low)
        share = left / thick.value if thick is not None else None
    if left is not None:
        of = f" of {thick.value:g}" if thick is not None else ""
        part = (
            f", {100 * share:.0f} % of the original"
            if share is not None
            else ". The original thickness is not measured"
        )
        said.append(f"{left:.2f}{of} mm are left{part}.")
    if worst is not None and left is None:
        said.append(
            f"{worst:g} mm of the metal is gone; how much is left is not known until the thickness is measured."
        )
    said += _plain(kind, figures)
    missing_doubt = [
        n
        for n in ("pit_depth_mm", "worn_mm", "crack_length_mm", "remaining_mm")
        if n in figures and figures[n].plus_minus is None
    ]
    if missing_doubt:
        which = " and ".join(FIGURES[name].words.lower() for name in missing_doubt)
        said.append(f"No uncertainty was given for {which}: the figure is taken as it stands.")
    needs = bool(figures) and kind in NEEDS_A_LIMIT
    published = limit.strip() and not limit.lower().startswith(("none", "no limit"))
    limit_words = (
        f"The limit as the shop has it: {limit.strip().rstrip('.')}."
        if published
        else NO_LIMIT_OF_GLUE
        if kind == "glue"
        else "No limit is published that was read. AC 43.13-1B 6-113b: a designated engineer is consulted before it goes back to service."
    )
    cautions = ["Light, moderate and severe are the quoted manual's words, never a limit."] if word else []
    if share is not None and share < 0.9:
        cautions.append(
            "More than a tenth is gone: one type's manual stops there; no general document that was read does."
        )
    if kind == "crack":
        cautions.append("Crack tests are read by the certified inspector; the program files them.")
    return Assessment(
        working=working(
            "worst depth = depth + uncertainty; length = 20 x depth; left = thickness - worst depth",
            rows,
            (
                "corrosion-words",
                "blend-ratio",
                "no-limits-published",
                *(("edge-distance-2d",) if kind == "hole" else ()),
            ),
            tuple(cautions),
            "One finding, on bare clean metal.",
        ),
        word=word,
        dish=dish,
        dish_words=dish_words,
        left_mm=left,
        left_share=share,
        lost_share=None if share is None else 1 - share,
        sentences=tuple(said),
        limit_words=limit_words if needs else "",
        to_engineering=needs and not published,
    )


def _plain(kind: str, figures: Mapping[str, Read]) -> list[str]:
    """What a figure says by itself, without a rule."""
    said = []
    if "pit_area_mm2" in figures:
        said.append(f"{figures['pit_area_mm2'].value:,.0f} mm2 are pitted: the blend-out takes in all of it.")
    if "crack_length_mm" in figures:
        read = figures["crack_length_mm"]
        doubt = f" ± {read.plus_minus:g}" if read.plus_minus is not None else ""
        count = f"{figures['crack_count'].value:g} cracks. " if "crack_count" in figures else ""
        said.append(f"{count}The longest crack that was seen: {read.value:g}{doubt} mm.")
    if "lifted_mm" in figures:
        over = f" over {figures['length_mm'].value:g} mm" if "length_mm" in figures else ""
        said.append(
            f"{figures['lifted_mm'].value:g} mm are lifted{over}; how deep it goes is known when it is cut back."
        )
    if "cut_length_mm" in figures:
        said.append(f"It is cut over {figures['cut_length_mm'].value:g} mm.")
    if "hole_mm" in figures and "edge_mm" in figures:
        ratio = figures["edge_mm"].value / figures["hole_mm"].value
        said.append(f"Hole centre to edge is {ratio:.2f} D; guidance minimum 2 D (AC 43.13-1B 4-57a).")
    if "hole_mm" in figures and "hole_wanted_mm" in figures:
        said.append(f"{figures['hole_mm'].value - figures['hole_wanted_mm'].value:+.2f} mm from what it should be.")
    if "joints_open" in figures and "joints_of" in figures:
        opened, of = figures["joints_open"].value, figures["joints_of"].value
        said.append(
            f"{opened:g} of {of:g} glue joints are open, {100 * opened / of:.0f} %; the others are not shown to hold."
        )
    if "bend_mm" in figures and "over_mm" in figures:
        said.append(f"Out of straight 1 in {figures['over_mm'].value / figures['bend_mm'].value:.0f}.")
    if "patch_length_mm" in figures and "patch_width_mm" in figures:
        sheet = f", of {figures['patch_thickness_mm'].value:g} mm" if "patch_thickness_mm" in figures else ""
        said.append(
            f"The earlier repair is {figures['patch_length_mm'].value:g} x {figures['patch_width_mm'].value:g} mm{sheet}; its "
            "papers are not in its size: look for them, and for what lies under it."
        )
    if "missing_count" in figures:
        gone = figures["missing_count"].value
        said.append(f"{gone:g} {'is' if gone == 1 else 'are'} missing.")
    if kind == "temper":
        said += _hardness(figures)
    return said


def _hardness(figures: Mapping[str, Read]) -> list[str]:
    said = [
        f"{words}: {read.value:g}{f' ± {read.plus_minus:g}' if read.plus_minus is not None else ''} {unit}."
        for name, words, unit in (
            ("hardness_hrc", "Hardness", "HRC"),
            ("hardness_hb", "Hardness", "HB"),
            ("conductivity_iacs", "Conductivity", "% IACS"),
        )
        if (read := figures.get(name)) is not None
    ]
    hrc = figures.get("hardness_hrc")
    bolt, part = HIGH_STRENGTH_HRC
    if hrc is not None and hrc.value + (hrc.plus_minus or 0.0) >= bolt:
        said.append(
            f"From {bolt:g} HRC a bolt and from {part:g} HRC another part is high strength (common practice, no source): no "
            "acid and no plating until its own bake is called out."
        )
    if said:
        said.append("Hardness and conductivity tell a temper only beside a reference piece of the same alloy.")
    return said
