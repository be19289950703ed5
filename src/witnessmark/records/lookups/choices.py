"""The decision sheet of a piece: facts gathered from findings, rows, plan, prices and what people reckoned."""

import hashlib
import json
import re
from dataclasses import dataclass, replace
from typing import Any

from witnessmark.calc.balance import arm_of
from witnessmark.calc.choices import CHOICES, Choices, Facts, Said, ShopHour, weigh
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.surface.oven_caps import OvenCap, oven_cap
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.findings import FindingSeen, findings_of
from witnessmark.records.lookups.hunts import weight_known
from witnessmark.records.lookups.leaving import price_for, readings, tariff
from witnessmark.records.lookups.plan import Plan, make_plan
from witnessmark.records.lookups.routes import oven_now
from witnessmark.records.models import (
    Aircraft,
    AnswerReliedOn,
    Belongs,
    ChoiceFigure,
    Decision,
    Finding,
    Layer,
    Piece,
    Row,
    ShopHourSaid,
    Step,
    Vendor,
)

KIND = "decision sheet"


@dataclass(frozen=True)
class Faying:
    """One surface it touches, and where that is known from."""

    material: str
    where: str


@dataclass(frozen=True)
class DecisionSheet:
    """Everything the one who decides sees, and what it hashes to."""

    piece: Piece
    findings: tuple[FindingSeen, ...]
    choices: Choices
    faying: tuple[Faying, ...]
    figures: dict[tuple[str, str], ChoiceFigure]
    decisions: tuple[Decision, ...]

    @property
    def decision(self) -> Decision | None:
        return self.decisions[0] if self.decisions else None

    @property
    def waiting(self) -> tuple[FindingSeen, ...]:
        """Open findings: found since, or never decided."""
        return tuple(f for f in self.findings if f.finding.state == "open")

    @property
    def waits_for_engineering(self) -> tuple[FindingSeen, ...]:
        return tuple(f for f in self.findings if f.with_engineering and f.finding.state == "open")

    def values(self) -> dict[str, Any]:
        """Give the sheet as plain values: what is frozen with a decision, and what --json prints."""
        return {
            "piece": self.piece.key,
            "findings": [
                {
                    "finding": f.finding.number,
                    "what": f.finding.what,
                    "state": f.finding.state,
                    "figures": {n: {"value": r.value, "plus_minus": r.plus_minus} for n, r in f.read.items()},
                    "says": list(f.assessment.sentences) if f.measured else [],
                }
                for f in self.findings
            ],
            "choices": {
                kind: {
                    aspect: {"words": cell.words, "known": cell.known, "value": cell.value, "from": cell.come_from}
                    for aspect, cell in cells.items()
                }
                for kind, cells in self.choices.cells.items()
            },
            "faying_surfaces": [{"material": f.material, "where": f.where} for f in self.faying],
            "substitution": self.choices.substitution.to_dict() if self.choices.substitution else None,
            "working": self.choices.working.to_dict(),
        }

    @property
    def sha256(self) -> str:
        """What the sheet hashes to: another figure, another sheet."""
        return hashlib.sha256(json.dumps(self.values(), sort_keys=True, default=str).encode()).hexdigest()


def decision_sheet(piece: Piece, plan: Plan | None = None) -> DecisionSheet:
    """Lay the five choices for a piece side by side, from the record as it is now."""
    figures = {(f.kind, f.what): f for f in ChoiceFigure.objects.filter(piece=piece).select_related("act__person")}
    findings = tuple(findings_of(Finding.objects.filter(piece=piece)))
    decisions = tuple(Decision.objects.filter(piece=piece).select_related("by", "act").order_by("-id"))
    faying, thickness = _stack(piece, figures)
    places = [b.place for b in Belongs.objects.filter(piece=piece).select_related("place")]
    weight = weight_known(piece.aircraft) if piece.aircraft is not None else None
    lost = [f for f in findings if f.finding.state != "closed" and f.measured]
    shares = [f.assessment.left_share for f in lost if f.assessment.left_share is not None]
    pits = [f.read["pit_depth_mm"].value for f in lost if "pit_depth_mm" in f.read]
    old = figures.get(("substitute", "old_material"))
    steps = list(Step.objects.filter(piece=piece).order_by("number"))
    reckoned, paid_in = _reckoned(
        piece, findings, figures, decisions, plan, [s for s in steps if s.done_act_id is None]
    )
    facts = Facts(
        material=old.typed if old else piece.material,
        finish=piece.finish,
        thickness_mm=_value(figures, "old_thickness_mm") or thickness or _beside(lost) or _written(piece.material),
        mass_g=piece.mass_g,
        arm_mm=next((arm for p in places if (arm := arm_of(p.station)) is not None), None),
        weighed_kg=weight.known_kg if weight else None,
        weighed_cg_mm=weight.known_cg_mm if weight else None,
        left_share=min(shares, default=None),
        pit_mm=max(pits, default=None),
        touches=tuple(f.material for f in faying),
        new_material=figures[("substitute", "material")].typed if ("substitute", "material") in figures else "",
        new_thickness_mm=_value(figures, "thickness_mm"),
        new_inspection=figures[key].typed if (key := ("substitute", "inspection")) in figures else "",
        mass_change_g={k: f.value for (k, what), f in figures.items() if what == "mass_g" and f.value is not None},
        reckoned=reckoned,
        paid_in=paid_in,
        shop_hour=_hour(shop_hour_now(piece.aircraft)),
        oven=_oven(piece, steps, old.typed if old else ""),
    )
    return DecisionSheet(piece, findings, weigh(facts), faying, figures, decisions)


def _value(figures: dict[tuple[str, str], ChoiceFigure], what: str) -> float | None:
    found = figures.get(("substitute", what))
    return found.value if found else None


def _written(material: str) -> float | None:
    """The thickness at the end of what is written of a sheet, such as `clad dural 1.2`."""
    found = re.search(r"\s(\d(?:\.\d+)?)(?:\s*mm)?(?:\s+riveted)?$", material)
    return float(found[1]) if found and float(found[1]) > 0 else None


def _beside(findings: list[FindingSeen]) -> float | None:
    return next((f.read["thickness_mm"].value for f in findings if "thickness_mm" in f.read), None)


def _stack(piece: Piece, figures: dict[tuple[str, str], ChoiceFigure]) -> tuple[tuple[Faying, ...], float | None]:
    """What lies on the piece in its rows, the rivets through it, and what was typed; and its own measured thickness."""
    faying: dict[str, Faying] = {}
    thickness = None
    if piece.part_no:
        mine = Layer.objects.filter(part_no=piece.part_no, row__place__aircraft=piece.aircraft)
        rows = list(
            Row.objects.filter(pk__in=mine.values("row")).select_related("place__wants_size").prefetch_related("layers")
        )
        for row in rows:
            layers = list(row.layers.all())
            at = next(n for n, layer in enumerate(layers) if layer.part_no == piece.part_no)
            thickness = thickness or layers[at].thickness_mm
            for near in layers[max(0, at - 1) : at + 2]:
                if near.part_no != piece.part_no and near.material:
                    faying.setdefault(near.material, Faying(near.material, f"{near.name}, row {row.place.mark}"))
            alloy = row.place.wants_size.alloy if row.place.wants_size else ""
            if alloy:
                faying.setdefault(alloy, Faying(alloy, f"rivets of row {row.place.mark}"))
    typed = figures.get(("substitute", "touches"))
    for word in typed.typed.split(";") if typed else ():
        if word.strip():
            faying.setdefault(word.strip(), Faying(word.strip(), "typed"))
    return tuple(faying.values()), thickness


def _oven(piece: Piece, steps: list[Step], reckoned: str) -> OvenCap | None:
    """What the original may see, with the coats on it; of the alloy that somebody reckons it to be, where he said so."""
    if not (piece.material or reckoned):
        return None
    now = oven_now(piece, steps)
    return oven_cap(reckoned, [coat.coat for coat in now.coats]) if reckoned else now


def shop_hour_now(aircraft: Aircraft | None) -> ShopHourSaid | None:
    """What an hour of the shop costs on its day: the newest that holds by then; None where nobody has said it."""
    return ShopHourSaid.objects.filter(since__lte=today(aircraft)).order_by("-since", "-id").first()


def _hour(said: ShopHourSaid | None) -> ShopHour | None:
    return ShopHour(float(said.amount), said.currency, f"{said.since:%-d %B %Y}") if said else None


def _reckoned(
    piece: Piece,
    findings: tuple[FindingSeen, ...],
    figures: dict[tuple[str, str], ChoiceFigure],
    decisions: tuple[Decision, ...],
    plan: Plan | None,
    steps: list[Step],
) -> tuple[dict[str, dict[str, Said]], dict[str, str]]:
    """What people typed for a choice, else what the route and the price lists say of the one the route is for.

    With it the currency in which each choice is paid out.
    """
    paid_in: dict[str, str] = {}
    found: dict[str, dict[str, Said]] = {kind: {} for kind in CHOICES}
    plan = plan or (make_plan(piece.aircraft) if piece.aircraft is not None else None)
    mine = [e for e in plan.schedule.entries if plan.about(e.key).piece_id == piece.pk] if plan else []
    own = [e.key for e in mine if not e.key.startswith("finding:")]
    planned = sum(plan.network.by_key[k].hours.likely for k in own) if plan else 0.0
    # Undecided, the route is that of a repair; of a scrapped piece it is that of the one remade in its place.
    routed = decisions[0].kind if decisions else "repair"
    routed = "remake" if routed == "scrap" else routed
    if own or steps:
        more = [f.hours for f in findings if f.finding.state == "open" and f.hours is not None]
        words = f"{planned + sum(more):,.1f} h, its route as it stands" + (
            f" with {sum(more):g} h of findings" if more else ""
        )
        found[routed]["hours"] = Said(words, value=planned + sum(more), come_from="route")
        found[routed]["money"], paid_in[routed] = _outside(piece, steps)
    for (kind, what), figure in figures.items():
        by = f"{figure.act.person.name}, {figure.act.happened_at:%-d %B}"
        if what in ("hours", "money", "strength", "stiffness") and figure.value is not None:
            unit = " h" if what == "hours" else ""
            found[kind][what] = Said(
                f"{figure.typed}{unit if figure.typed.replace('.', '').isdigit() else ''}",
                value=figure.value,
                come_from=by,
            )
            if what == "money":
                paid_in[kind] = re.sub(r"[^A-Za-z]", "", figure.typed).upper()
    for kind in CHOICES:
        hours = found[kind].get("hours")
        if kind != "scrap" and plan is not None and hours is not None and hours.value is not None:
            found[kind]["days"] = _days(plan, own, planned, hours.value)
    return found, paid_in


def _outside(piece: Piece, steps: list[Step]) -> tuple[Said, str]:
    """What the vendors of the steps to come ask by their newest price lists, and its currency."""
    vendors = {v.code: v for v in Vendor.objects.filter(code__in={s.who for s in steps})}
    out = [(vendors[s.who], s.name) for s in steps if s.who in vendors]
    if not out:
        return Said("nothing goes outside", value=0.0, come_from="route"), ""
    total, currency, silent = 0.0, set(), []
    for vendor, process in out:
        price = tariff(vendor, process)
        asked = price_for(price, [(piece, 1)], readings([piece.pk])) if price else None
        if price is None or asked is None or asked.price is None:
            silent.append(vendor.name)
            continue
        total += asked.price
        currency.add(price.currency)
    if silent or len(currency) > 1:
        lacks = ", ".join(dict.fromkeys(silent)) or "one currency"
        return Said(f"unknown: no price of {lacks} for it", known=False), ""
    paid_in = currency.pop()
    return Said(f"{total:,.2f} {paid_in} outside", value=total, come_from="price lists"), paid_in


def _days(plan: Plan, own: list[str], planned: float, hours: float) -> Said:
    """Plan again with so many hours on this piece: when its last step ends, and by how much the end moves."""
    shop = [k for k in own if not plan.network.by_key[k].is_outside and plan.network.by_key[k].hours.likely > 0]
    if not shop:
        return Said("unknown: no step of it is in the plan", known=False)
    factor = hours / planned if planned else 1.0
    jobs = tuple(
        replace(
            job, hours=Triple(*(max(0.25, h * factor) for h in (job.hours.least, job.hours.likely, job.hours.most)))
        )
        if job.key in shop
        else job
        for job in plan.network.jobs
    )
    again = plan.solved.course.lay(replace(plan.network, jobs=jobs), plan.shop)
    last = max((again.by_key[k].finish_date for k in own if k in again.by_key), default=None)
    if last is None:
        return Said("unknown: its steps cannot be planned as they stand", known=False)
    days = (last - plan.shop.today).days
    moved = (again.finish_date - plan.schedule.finish_date).days
    way = "later" if moved > 0 else "earlier"
    end = "the end of the work does not move" if moved == 0 else f"the work ends {abs(moved)} days {way}"
    return Said(f"{days} days, done {last:%-d %B %Y}; {end}", value=float(days), come_from="plan")


def relied_on(decision: Decision) -> dict[str, Any] | None:
    """The sheet that was frozen with a decision; None where it was made without one."""
    frozen = AnswerReliedOn.objects.filter(act=decision.act, answer__kind=KIND).select_related("answer").first()
    return dict(frozen.answer.result) if frozen else None
