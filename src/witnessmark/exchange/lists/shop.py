"""The shop and what it works with: aircraft, zones, people, vendors, benches, fasteners, routes."""

from decimal import Decimal

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import Kept, ListFile, Writer
from witnessmark.exchange.lists.prices import newest_prices, price_in, shop_hour_in
from witnessmark.records.models import (
    Act,
    Aircraft,
    Bench,
    FastenerSize,
    Holder,
    HolderKind,
    Person,
    Role,
    RouteTemplate,
    ShopHourSaid,
    TemplateStep,
    Vendor,
    VendorPrice,
    Zone,
)

ROLES = tuple(Role.values)
OTHER_CRAFTS = ("inspection", "milestone", "lead")


def people(f: ListFile) -> Writer:
    """People by name."""
    have = {p.name.casefold(): p for p in Person.objects.all()}
    kept = Kept()
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["name"].casefold(), what=c["name"])
            hours = (
                Decimal(str(cells.number(c["hours_per_day"], "hours_per_day", most=24))) if c["hours_per_day"] else None
            )
            values = {
                "role": cells.word(c["role"], "role", ROLES),
                "craft": c["craft"],
                "hours_per_day": hours.quantize(Decimal("0.01")) if hours is not None else None,
                "days": c["days"] or None,
                "continuous": cells.word(c["continuous"], "continuous", ("yes", "no")) == "yes"
                if c["continuous"]
                else None,
                "note": c["note"],
            }
            one = have.get(c["name"].casefold())
            if one is None:
                person = f.new(Person, name=c["name"], **values)
                person.set_unusable_password()
                kept.new.append(person)
            elif one.role != values["role"]:
                f.differs("role", values["role"], one.role, "A role is not changed by a list.")
            elif one == f.newcomer:
                f.update(one, **values)
                f.news("lead", one.name)
                kept.changed[one.pk] = one
            elif f.update(one, **values):
                kept.changed[one.pk] = one
    return lambda _act: kept.write(Person, ("craft", "hours_per_day", "days", "continuous", "note"))


def aircraft(f: ListFile) -> Writer:
    """The one aircraft these lists speak of."""
    kept, hours = Kept(), list[ShopHourSaid]()
    for number, row in enumerate(f.rows):
        with f.row(row) as c:
            if number:
                raise Wrong("There is one aircraft a folder. Put the other into a folder of its own")
            values = {
                "maker": c["maker"],
                "type": c["type"],
                "works_number": c["works_number"],
                "year": cells.whole(c["year"], "year", least=1850, most=2200) if c["year"] else None,
                "arrived_on": f.day("arrived_on"),
                "today": f.day("today"),
                "shop": c["shop"],
            }
            one = Aircraft.objects.filter(name=c["aircraft"]).first()
            if one is None:
                one = f.new(Aircraft, name=c["aircraft"], **values)
                kept.new.append(one)
            elif f.update(one, **values):
                kept.changed[one.pk] = one
            f.aircraft = one
            hour = shop_hour_in(f, c)
            if hour is not None:
                hours.append(hour)

    def write(act: Act) -> None:
        kept.write(Aircraft, ("maker", "type", "works_number", "year", "arrived_on", "today", "shop"))
        for hour in hours:
            hour.act = act
            hour.save()

    return write


def zones(f: ListFile) -> Writer:
    """Zones by number."""
    have = {z.number: z for z in Zone.objects.filter(aircraft=f.machine)}
    kept = Kept()
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["zone"], what=f"Zone {c['zone']}")
            one = have.get(c["zone"])
            if one is None:
                kept.new.append(f.new(Zone, aircraft=f.machine, number=c["zone"], name=c["name"]))
            elif f.update(one, name=c["name"]):
                kept.changed[one.pk] = one
    return lambda _act: kept.write(Zone, ("name",))


def vendors(f: ListFile) -> Writer:
    """Vendors by code; each is a holder too. A price is kept beside those that he said before."""
    have = {v.code.casefold(): v for v in Vendor.objects.all()}
    names = set(Holder.objects.filter(kind=HolderKind.VENDOR).values_list("name", flat=True))
    kept, holders, prices = Kept(), Kept(), Kept()
    asks = newest_prices()
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["code"].casefold(), what=f"Vendor {c['code']}")
            least, likely, most = cells.three(
                {"days_least": c["least_days"], "days_likely": c["likely_days"], "days_most": c["most_days"]}, "days"
            )
            values = {
                "name": c["name"],
                "does": c["does"],
                "least_days": least,
                "likely_days": likely,
                "most_days": most,
                "min_order": c["min_order"],
                "baskets": cells.whole(c["baskets"], "baskets", most=99) if c["baskets"] else None,
                "note": c["note"],
                "phone": c["phone"],
            }
            one = have.get(c["code"].casefold())
            if one is None:
                if c["name"] in names:
                    raise Wrong(f"A vendor called {c['name']} has another code. Use that code, or write a fuller name")
                names.add(c["name"])
                holder = Holder(kind=HolderKind.VENDOR, name=c["name"])
                vendor = f.new(Vendor, code=c["code"], holder=holder, **values)
                price = price_in(f, c, vendor, None)
                holders.new.append(holder)
                kept.new.append(vendor)
            else:
                price = price_in(f, c, one, asks.get(one.pk))
                if f.update(one, **values):
                    kept.changed[one.pk] = one
            if price is not None:
                prices.new.append(price)

    def write(act: Act) -> None:
        holders.write(Holder)
        kept.write(
            Vendor, ("name", "does", "least_days", "likely_days", "most_days", "min_order", "baskets", "note", "phone")
        )
        for price in prices.new:
            price.act = act
        prices.write(VendorPrice)

    return write


def benches(f: ListFile) -> Writer:
    """Benches by name."""
    have = {b.name.casefold(): b for b in Bench.objects.all()}
    kept = Kept()
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["bench"].casefold(), what=c["bench"])
            capacity = cells.whole(c["capacity"], "capacity", most=1000) if c["capacity"] else None
            one = have.get(c["bench"].casefold())
            if one is None:
                kept.new.append(f.new(Bench, name=c["bench"], what=c["what"], capacity=capacity))
            elif f.update(one, what=c["what"], capacity=capacity):
                kept.changed[one.pk] = one
    return lambda _act: kept.write(Bench, ("what", "capacity"))


def fasteners(f: ListFile) -> Writer:
    """Fastener sizes by code; what was typed is kept beside the mm."""
    have = {s.code: s for s in FastenerSize.objects.all()}
    codes = {v.code.casefold(): v for v in Vendor.objects.all()}
    kept = Kept()
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["code"], what=f"Fastener {c['code']}")
            diameter = cells.length(c["diameter"], "diameter")
            vendor = codes.get(c["vendor"].casefold())
            if c["vendor"] and vendor is None:
                raise Wrong(f"There is no vendor {c['vendor']}. Add it to vendors.csv, or correct the code")
            values = {
                "family": c["family"],
                "kind": c["kind"],
                "head_deg": cells.number(c["head_deg"], "head_deg", most=180) if c["head_deg"] else None,
                "nominal_mm": diameter.mm,
                "nominal_typed": c["diameter"],
                "pitch_mm": cells.length(c["pitch"], "pitch").mm if c["pitch"] else None,
                "alloy": c["alloy"],
                "confusable_with": c["confusable_with"],
                "pack": cells.whole(c["pack"], "pack") if c["pack"] else None,
                "vendor": vendor,
                "source": c["source"],
                "status": c["status"],
            }
            one = have.get(c["code"])
            if one is None:
                kept.new.append(f.new(FastenerSize, code=c["code"], **values))
            elif f.update(one, **values):
                kept.changed[one.pk] = one
    return lambda _act: kept.write(
        FastenerSize,
        (
            "family", "kind", "head_deg", "nominal_mm", "nominal_typed", "pitch_mm", "alloy", "confusable_with",
            "pack", "vendor", "source", "status",
        ),
    )  # fmt: skip


def known_bench(c: dict[str, str], names: dict[str, str]) -> str:
    """Give the bench's name as the record spells it."""
    if not c["bench"]:
        return ""
    found = names.get(c["bench"].casefold())
    if found is None:
        raise Wrong(f"There is no bench '{c['bench']}'. Add it to benches.csv, or correct the name")
    return found


def routes(f: ListFile) -> Writer:
    """Route templates and their steps; routes that parts are on already stay as they are."""
    templates = {t.name: t for t in RouteTemplate.objects.all()}
    have = {(s.template.name, s.number): s for s in TemplateStep.objects.select_related("template")}
    bench_names = {name.casefold(): name for name in Bench.objects.values_list("name", flat=True)}
    codes = {code.casefold(): code for code in Vendor.objects.values_list("code", flat=True)}
    crafts = {craft.casefold() for craft in Person.objects.values_list("craft", flat=True)} | set(OTHER_CRAFTS)
    made, kept = Kept(), Kept()
    unknown: set[str] = set()
    for row in f.rows:
        with f.row(row) as c:
            number = cells.whole(c["step"], "step", most=999)
            f.once(c["route"], str(number), what=f"Step {number} of '{c['route']}'")
            hours = cells.three(c, "hours")
            who = codes.get(c["who"].casefold(), c["who"])
            if who.casefold() not in crafts and who not in codes.values() and who.casefold() not in unknown:
                unknown.add(who.casefold())
                f.remark(f"Nobody in people.csv has the craft '{who}' and no vendor has this code: such steps wait")
            values = {
                "name": c["name"],
                "who": who,
                "hours_least": hours[0],
                "hours_likely": hours[1],
                "hours_most": hours[2],
                "bench": known_bench(c, bench_names),
                "cures_hours": cells.number(c["cures_hours"], "cures_hours") if c["cures_hours"] else None,
                "next_within_hours": cells.number(c["next_within_hours"], "next_within_hours")
                if c["next_within_hours"]
                else None,
                "needs": cells.listed(c["needs"]) or None,
                "caution": c["caution"],
                "tag_medium": c["tag_medium"],
            }
            one = have.get((c["route"], number))
            if one is None:
                template = templates.get(c["route"])
                if template is None:
                    template = f.new(RouteTemplate, name=c["route"])
                step = f.new(TemplateStep, template=template, number=number, **values)
                if c["route"] not in templates:
                    templates[c["route"]] = template
                    made.new.append(template)
                kept.new.append(step)
            elif f.update(one, **values):
                kept.changed[one.pk] = one

    def write(_act: Act) -> None:
        made.write(RouteTemplate)
        kept.write(
            TemplateStep,
            (
                "name", "who", "hours_least", "hours_likely", "hours_most", "bench", "cures_hours", "caution",
                "tag_medium", "next_within_hours", "needs",
            ),
        )  # fmt: skip

    return write
