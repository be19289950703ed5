"""What came back: the return sheet of a mixed bucket, and the note that holds a vendor to what is wrong."""

from witnessmark.calc.bags.next_reading import feature_words
from witnessmark.calc.bags.return_match import DOUBTFUL, SAID, STRANGER
from witnessmark.papers.carried import Carried, CarriedPaper, Part, Sheet
from witnessmark.papers.pictures import first_pictures, pictures_of
from witnessmark.papers.typesetting import address_of, code_svg, short_day, stamp_for
from witnessmark.records.lookups.mixing import Sorting, sorting
from witnessmark.records.lookups.promises import claims
from witnessmark.records.models import Aircraft, Claim, Mix, Shipment

_MOST = 200


def _shipment(which: str) -> Shipment | None:
    return Shipment.objects.filter(number=which).select_related("vendor").first()


def return_sheet(aircraft: Aircraft | None, which: str) -> CarriedPaper:
    """By bag: which pieces of the bucket are its own, which are doubtful, what is short and what is not ours."""
    stamp, shipment = stamp_for(aircraft), _shipment(which)
    seen = sorting(shipment) if shipment else None
    if shipment is None or seen is None:
        return CarriedPaper(stamp, "Return sheet", (), f"Nothing of a shipment {which} came back mixed.")
    weighed = f", {seen.mix.mass_back_g:g} g" if seen.mix.mass_back_g else ""
    counted = f"{seen.mix.count_back} counted{weighed}" if seen.mix.count_back else "Not counted yet"
    sheet = Sheet(
        f"Back from {shipment.vendor.name}: {seen.match.sentence if seen.match else 'every piece is told apart.'}",
        f"Shipment {shipment.number}, {shipment.process}. {counted}.",
        tuple(_parts(seen)),
        ("Measured by", "Confirmed by", "Day"),
        ("A piece called doubtful goes to no bag until it is measured again.",),
        code_svg(address_of(shipment.number, under="outwork")),
        f"The code opens shipment {shipment.number}.",
    )
    bags = list(seen.bags.values())
    return CarriedPaper(stamp, "Return sheet", (sheet,), "", first_pictures(bags))


def _parts(seen: Sorting) -> list[Part]:
    pieces = seen.match.pieces if seen.match else ()
    lines = []
    for tag, bag in sorted(seen.bags.items()):
        home = [each.item for each in seen.told if not each.foreign and each.piece_id == bag.pk]
        own = [p.piece for p in pieces if p.bag == tag and p.state not in (DOUBTFUL, SAID)]
        said = [p.piece for p in pieces if p.bag == tag and p.state == SAID]
        words = [
            f"{word}: {_numbers(those)}" for word, those in (("home", home), ("told", own), ("said", said)) if those
        ]
        lines.append(Carried(bag, len(home) + len(own) + len(said), None, "; ".join(words) or "none told yet"))
    parts = [Part("To their bags", lines=tuple(lines))]
    doubtful = [p for p in pieces if p.state == DOUBTFUL]
    if doubtful:
        said = [f"{p.piece}: {', '.join(f'{name} {chance:.2f}' for name, chance in p.others[:3])}." for p in doubtful]
        if seen.match and seen.match.next:
            said.insert(0, f"Read next: {feature_words(seen.match.next.feature)}.")
        parts.append(Part("Doubtful", texts=tuple(said[:_MOST])))
    if seen.words:
        said_so = [
            f"{item}: {word.says}, says {word.act.person.name}: {word.why}. Before that {word.against}."
            for item, word in sorted(seen.words.items(), key=lambda each: (len(each[0]), each[0]))
        ]
        parts.append(Part("Said against the readings", texts=tuple(said_so[:_MOST])))
    foreign = [p.piece for p in pieces if p.state == STRANGER or (p.state == SAID and p.bag is None)] + [
        each.item for each in seen.told if each.foreign
    ]
    if foreign:
        parts.append(Part("Not ours", texts=(f"{_numbers(foreign)}.",)))
    if seen.match and seen.match.short:
        short = [
            f"{s.count} of {s.group}{f', {s.place}' if s.place and s.place not in s.group else ''}, chance {s.chance:.2f}."
            for s in seen.match.short
        ]
        parts.append(Part("Short", texts=tuple(short)))
    return parts


def _numbers(items: list[str]) -> str:
    shown = sorted(items, key=lambda item: (len(item), item))
    return ", ".join(shown[:_MOST]) + (f" and {len(shown) - _MOST} more" if len(shown) > _MOST else "")


def discrepancy(aircraft: Aircraft | None, which: str) -> CarriedPaper:
    """What a vendor is held to for one shipment, with pictures, and room for his answer."""
    stamp, shipment = stamp_for(aircraft), _shipment(which)
    rows = [claim for claim in claims([which]) if claim.settled_on is None] if shipment else []
    if shipment is None or not rows:
        return CarriedPaper(stamp, "Discrepancy note", (), f"Nothing is open with the vendor of a shipment {which}.")
    sent = f"It left on {short_day(shipment.sent_on)}. " if shipment.sent_on else ""
    lines = [Carried(c.piece, c.count, None, _said(c)) for c in rows if c.piece is not None]
    texts = [f"{_said(c)}.{' Its picture lies in the record.' if c.photo_id else ''}" for c in rows if c.piece is None]
    mix = Mix.objects.filter(shipment=shipment).first()
    counted = [f"{sum(line.count_out for line in shipment.lines.all())} left"]
    if mix is not None and mix.count_back:
        counted.append(f"{mix.count_back} came back in one bucket")
        if mix.mass_back_g:
            counted.append(f"{mix.mass_back_g:g} g by our scales")
    elif mix is None:
        counted.append(f"{sum(line.count_back or 0 for line in shipment.lines.all())} counted back")
    sheet = Sheet(
        f"To {shipment.vendor.name}: something is wrong with shipment {shipment.number}.",
        f"{shipment.process[:1].upper()}{shipment.process[1:]}. {sent}{', '.join(counted)}.",
        (
            Part("What is wrong", tuple(texts), tuple(lines)),
            Part("We ask", ("Look for them in the barrels, baskets and sumps, and answer on this sheet.",)),
            Part("Your answer", blank=4),
        ),
        ("For the shop", f"For {shipment.vendor.name}", "Day"),
    )
    shown = first_pictures([x.piece for x in lines])
    shown |= pictures_of({c.piece_id: c.photo for c in rows if c.piece_id is not None and c.photo is not None})
    return CarriedPaper(stamp, "Discrepancy note", (sheet,), "", shown)


def _said(claim: Claim) -> str:
    number = f", finding {claim.finding.number}" if claim.finding else ""
    return f"{claim.get_kind_display()}: {claim.what}{number}"


def all_names() -> dict[str, list[str]]:
    """Shipments with a bucket, and shipments with an open claim."""
    mixed = list(Mix.objects.order_by("shipment__number").values_list("shipment__number", flat=True))
    held = sorted(
        set(Claim.objects.filter(settled_on=None, shipment__isnull=False).values_list("shipment__number", flat=True))
    )
    return {"return-sheet": mixed, "discrepancy": [number for number in held if number]}
