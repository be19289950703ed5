"""What the figures of the road measure inside a process that has the data folder open; prints JSON."""

import json
import os
import random
import sys
import time
import uuid
from collections import Counter
from datetime import date
from typing import Any

import django

from witnessmark.bench.figures import least_cpu_s

SEARCHES = ("fitting", "04711", "bracket 99", "zone 3 rib", "nothing like it", "e")


def queries() -> dict[str, int]:
    """Count the queries of every screen that needs no key, and of one zone, place and piece."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse

    from witnessmark.records.models import Person, Piece, Place

    place = Place.objects.order_by("pk")[:1].get()
    addresses = {name: reverse(name) for name in ("bench", "aircraft", "seams", "outwork", "orders", "plan", "papers")}
    addresses["zone"] = reverse("zone", args=[place.zone.number])
    addresses["place"] = reverse("place", args=[place.pk])
    addresses["piece"] = reverse("piece", args=[Piece.objects.order_by("pk")[:1].get().tag])
    addresses["find"] = reverse("find") + "?q=fitting"
    client = Client()
    client.force_login(Person.objects.get(name="Measurer"))
    told = {}
    for name, address in addresses.items():
        client.get(address)  # what is computed once and kept is not the screen's own growth
        with CaptureQueriesContext(connection) as counted:
            answer = client.get(address)
        if answer.status_code != 200:
            raise RuntimeError(f"{name} answered {answer.status_code}")
        told[name] = len(counted)
    return told


def search() -> dict[str, float]:
    """Give the CPU milliseconds of each search, the least of five."""
    from witnessmark.records.lookups.search import find

    return {words: 1000 * least_cpu_s(lambda words=words: find(words)) for words in SEARCHES}  # type: ignore[misc]


def machine(acts: int, seed: int) -> dict[str, Any]:
    """Do random acts on a small shop and count the laws they break.

    A count kept beside the record, by a dictionary of our own, must agree with the ledger after every act that
    was done; every thousand acts the whole ledger is recomputed from its moves.
    """
    from django.core.management import call_command
    from django.db import transaction

    from witnessmark.records.actions.saying import Refused
    from witnessmark.records.lookups.ledger import check_ledger
    from witnessmark.records.models import Holding

    call_command("migrate", verbosity=0)
    chance = random.Random(seed)  # noqa: S311  no secret
    shop = MachineShop(chance)
    violations = refused = done = 0
    while done < acts:
        with transaction.atomic():
            for _ in range(min(1000, acts - done)):
                done += 1
                try:
                    piece = shop.act()
                except Refused:
                    refused += 1
                    continue
                here = dict(Holding.objects.filter(piece=piece, count__gt=0).values_list("holder_id", "count"))
                violations += here != {h: c for (p, h), c in shop.beside.items() if p == piece.pk and c}
        violations += len(check_ledger().faults)
    return {"acts": acts, "refused": refused, "violations": violations}


class MachineShop:
    """Forty pieces, thirty places, a dozen holders and a vendor; `act` does one random act, right or wrong."""

    def __init__(self, chance: random.Random) -> None:
        from witnessmark.records.actions import custody
        from witnessmark.records.actions.saying import move, say
        from witnessmark.records.models import Act, Aircraft, Holder, Move, Person, Piece, Place, Role, Vendor, Zone

        self.chance = chance
        aircraft = Aircraft.objects.create(name="Machine", arrived_on=date(2026, 1, 5))
        zone = Zone.objects.create(aircraft=aircraft, number="1", name="all of it")
        self.lead = Person.objects.create(name="Machine", role=Role.LEAD)
        self.shelves = [custody.holder("shelf", f"shelf {n}") for n in range(8)]
        self.shelves.append(custody.holder("person", "Machine", self.lead))
        self.ends = [custody.single("scrap"), custody.single("not_found")]
        at = custody.holder("vendor", "Plater")
        self.vendor = Vendor.objects.create(
            code="PL", name="Plater", least_days=1, likely_days=2, most_days=3, holder=at
        )
        self.places = [
            Place.objects.create(
                holder=Holder.objects.create(kind="place", name=f"place {n}"),
                aircraft=aircraft,
                zone=zone,
                mark=f"{n}",
                side="LRC"[n % 3],
                capacity=1 + n % 7,
            )
            for n in range(30)
        ]
        self.pieces = [
            Piece.objects.create(tag=f"{n:04d}", aircraft=aircraft, kind=("bag", "part")[n % 2], side="LRC"[n % 3])
            for n in range(40)
        ]
        counts = [1 if piece.kind == "part" else 20 for piece in self.pieces]
        self.beside = Counter(
            {(p.pk, self.shelves[n % 8].pk): counts[n] for n, p in enumerate(self.pieces)},
        )
        self.holders = {h.name: h for h in [*self.shelves, *self.ends, at, *(p.holder for p in self.places)]}
        self.names = {h.pk: h for h in self.holders.values()}

        def do(act: Act) -> dict[str, int]:
            origin = custody.single("origin")
            rows = [
                Move(from_piece=p, from_holder=origin, to_piece=p, to_holder=self.shelves[n % 8], count=counts[n])
                for n, p in enumerate(self.pieces)
            ]
            return {"moves": move(act, rows)}

        say("load_lists", by=self.lead, act_id=self.act_id(), said={}, do=do, aircraft=aircraft)

    def act_id(self) -> uuid.UUID:
        return uuid.UUID(int=self.chance.getrandbits(128))

    def act(self) -> Any:
        """Do one act that looks right four times in five, else any; return its piece, or raise Refused."""
        from witnessmark.records.actions import custody

        chance = self.chance
        piece = chance.choice(self.pieces)
        here = [(h, c) for (p, h), c in self.beside.items() if p == piece.pk and c]
        at, count = (
            (self.names[(there := chance.choice(here))[0]], chance.randint(1, there[1])) if here else (None, None)
        )
        said: dict[str, Any] = {"by": self.lead, "act_id": self.act_id(), "piece": piece}
        if chance.random() < 0.2:
            at, count = chance.choice([None, *self.shelves]), chance.choice([None, 0, -1, 1, 3, 400])
        elif at is not None and at.kind == "vendor":
            return self.fetch(piece)
        verb = chance.choice(
            ["take_off"] if at is not None and at.kind == "place" else ["put_back", "lay_down", "send"]
        )
        if verb == "send":
            return self.send(piece)
        if verb == "put_back":
            sided = [place for place in self.places if piece.side == place.side or chance.random() < 0.2]
            told = custody.put_back(**said, place=chance.choice(sided or self.places), at=at, count=count)
        elif verb == "take_off":
            told = custody.take_off(**said, to=chance.choice(self.shelves), at=at, count=count)
        else:
            to = chance.choice(self.shelves if chance.random() < 0.95 else self.ends)
            told = custody.lay_down(**said, to=to, at=at, count=count)
        self.note(piece, self.holders[told["from"]], self.holders[told["to"]], told["count"])
        if chance.random() < 0.1:
            from witnessmark.records.models import Act

            act = Act.objects.get(pk=said["act_id"])
            custody.undo(by=self.lead, act_id=self.act_id(), act=act)
            self.note(piece, self.holders[told["to"]], self.holders[told["from"]], told["count"])
        return piece

    def send(self, piece: Any) -> Any:
        from witnessmark.records.actions import custody

        here = [(h, c) for (p, h), c in self.beside.items() if p == piece.pk and c]
        number = f"S-{self.chance.getrandbits(64)}"
        custody.send_out(
            by=self.lead,
            act_id=self.act_id(),
            vendor=self.vendor,
            process="plate",
            pieces=[piece],
            number=number,
            sent_on=date(2026, 5, 4),
        )
        self.note(piece, self.names[here[0][0]], self.vendor.holder, here[0][1])
        return piece

    def fetch(self, piece: Any) -> Any:
        from witnessmark.records.actions import custody
        from witnessmark.records.models import Shipment

        shipment = Shipment.objects.filter(lines__piece=piece, back_on=None).order_by("id")[:1].get()
        to = self.chance.choice(self.shelves)
        there = self.beside[piece.pk, self.vendor.holder_id]
        back = self.chance.randint(-1, there + 1)
        told = custody.receive_back(
            by=self.lead,
            act_id=self.act_id(),
            shipment=shipment,
            counts={piece.pk: back},
            to=to,
            back_on=date(2026, 5, 12),
        )
        self.note(piece, self.vendor.holder, to, told["back"])
        return piece

    def note(self, piece: Any, left: Any, to: Any, count: int) -> None:
        """Keep the count beside the record."""
        self.beside[piece.pk, left.pk] -= count
        self.beside[piece.pk, to.pk] += count


def main() -> None:
    """Run one task and print what it told."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.settings")
    django.setup()
    task, *words = sys.argv[1:]
    tasks: dict[str, Any] = {
        "queries": queries,
        "search": search,
        "machine": lambda: machine(int(words[0]), int(words[1])),
    }
    began = time.monotonic()
    told = tasks[task]()
    print(f"{task}: {time.monotonic() - began:.0f} s", file=sys.stderr)
    print(json.dumps(told))


if __name__ == "__main__":
    main()
