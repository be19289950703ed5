"""The commands for papers that have not come and for craftsmen outside, held against what was sent and what came."""

import json
import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_finding, make_steps
from witnessmark.cli.main import main
from witnessmark.records.actions.certificates import certificate_came
from witnessmark.records.actions.custody import receive_back, send_out
from witnessmark.records.lookups.craftsmen import AtHis, craftsmen, shipments_at
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Aircraft, Certificate, Holder, Piece, Shipment, Vendor

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Aircraft.objects.update(today=date(2026, 5, 12))
    return shop


def sent(shop: Shop, tag: str = "0118", promised_on: date | None = None) -> Shipment:
    part = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=600)
    part.refresh_from_db()
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Zinc plate", pieces=[part], number=f"S-{tag}",
        sent_on=date(2026, 5, 1), promised_on=promised_on,
    )  # fmt: skip
    return Shipment.objects.get(number=f"S-{tag}")


def said(capsys: pytest.CaptureFixture[str], code: int, *words: str) -> dict[str, object]:
    assert main([*words, "--json"]) == code
    told = json.loads(capsys.readouterr().out)
    assert isinstance(told, dict)
    return told


def test_a_paper_that_has_not_come_and_what_it_holds(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert said(capsys, 0, "certificates")["say"] == "No shipment has been asked for a paper yet."
    shipment = sent(shop)
    piece = shipment.lines.get().piece
    receive_back(
        by=shop.lead,
        act_id=uuid.uuid4(),
        shipment=shipment,
        counts={piece.pk: 1},
        to=shop.box,
        back_on=date(2026, 5, 8),
    )
    told = said(capsys, 1, "certificates")
    (one,) = told["shipments"]  # type: ignore[misc]
    assert [(p["paper"], p["came_on"]) for p in one["papers"]] == [("certificate of conformity", None)]
    assert [row["tag"] for row in one["quarantine"]] == ["0118"]
    assert "has not brought its certificate of conformity" in one["quarantine"][0]["why"]
    assert main(["certificates", "S-0118"]) == 1
    assert "in quarantine: 0118" in capsys.readouterr().out
    certificate_came(
        by=shop.lead,
        act_id=uuid.uuid4(),
        certificate=Certificate.objects.get(),
        came_on=date(2026, 5, 11),
        number="C 7",
    )
    told = said(capsys, 0, "certificates", "S-0118")
    assert told["shipments"][0]["quarantine"] == []  # type: ignore[index]
    assert "There is no shipment S-9" in str(said(capsys, 1, "certificates", "S-9")["refused"])


def test_his_promise_moves_the_day_and_his_deliveries_move_it_more(shop: Shop) -> None:
    now = date(2026, 5, 12)
    promised = date(2026, 5, 15)
    shipment = sent(shop, promised_on=promised)

    def at() -> AtHis:
        ((one,),) = shipments_at([shop.vendor], now).values()
        return one

    # His word for this one alone: ten days instead of the fifteen he says of all, and never before the day he promised.
    early, late_word = at(), date(2026, 6, 5)
    assert promised <= early.likely_done < early.four_in_five_by
    assert early.because == "half the chance, by the time he names; promised for 15 May"
    Shipment.objects.update(promised_on=late_word)
    assert at().likely_done > early.likely_done and at().likely_done >= late_word
    Shipment.objects.update(promised_on=promised)
    for n in range(4):
        Shipment.objects.create(
            number=f"T-{n}", vendor=shop.vendor, process="Zinc plate", sent_on=date(2026, 1, 5),
            back_on=date(2026, 3, 30), act=shipment.act,
        )  # fmt: skip
    late = at()
    # Four deliveries of 60 working days against 15 said: half the chance lies far behind the promise.
    assert late.likely_done > date(2026, 6, 12)
    assert late.because == "half the chance, after 4 deliveries of his; promised for 15 May"
    (one,) = [each for each in craftsmen(now) if each.vendor == shop.vendor]
    assert one.dry_on == late.likely_done


def test_without_a_promise_or_past_it_half_the_chance_counts(shop: Shop) -> None:
    sent(shop)
    ((one,),) = shipments_at([shop.vendor], date(2026, 5, 12)).values()
    assert one.because == "half the chance, by the time he names"
    assert one.likely_done > date(2026, 5, 12)
    sent(shop, "0119", promised_on=date(2026, 5, 8))
    late = shipments_at([shop.vendor], date(2026, 5, 12))[shop.vendor.pk][1]
    assert late.likely_done > date(2026, 5, 12)


def test_a_vendor_that_names_no_time_has_the_usual_one(shop: Shop) -> None:
    named = Vendor.objects.create(
        code="NN", name="Nobody's Yard", least_days=0, likely_days=0, most_days=0,
        holder=Holder.objects.create(kind="vendor", name="Nobody's Yard"),
    )  # fmt: skip
    times = vendor_times(date(2026, 5, 12))
    assert times[named.pk].time.half == pytest.approx(times[shop.vendor.pk].time.half)
    assert "names no time" in times[named.pk].sentence
    assert list(vendor_times(date(2026, 5, 12), {named.pk})) == [named.pk]
    Shipment.objects.filter(pk=sent(shop).pk).update(vendor=named)
    ((one,),) = shipments_at([named], date(2026, 5, 12)).values()
    assert one.because == "half the chance, by the others' usual time: he names none"


def test_what_a_craftsman_has_when_he_runs_dry_and_what_could_feed_him(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said(capsys, 1, "outside")["craftsmen"] == []
    sent(shop, promised_on=date(2026, 5, 22))
    make_steps(make_part(shop, "0200", shop.shelf), ("Zinc plate", "PL"))
    held = make_part(shop, "0201", shop.shelf)
    make_steps(held, ("Zinc plate", "PL"))
    make_finding(shop, "F-1", piece=held)
    make_steps(make_part(shop, "0202", shop.shelf), ("Strip", "sheet metal"), ("Zinc plate", "PL"))
    (one,) = said(capsys, 0, "outside", "pl")["craftsmen"]  # type: ignore[misc]
    assert (one["code"], one["runs_dry_on"]) == ("PL", one["has"][0]["likely_done"])
    assert [(at["shipment"], at["count"], at["promised_on"]) for at in one["has"]] == [("S-0118", 1, "2026-05-22")]
    dry = date.fromisoformat(one["runs_dry_on"])
    assert dry >= date(2026, 5, 22)
    assert [(row["tag"], row["waits"]) for row in one["ready"]] == [("0200", None), ("0201", "F-1")]
    assert [(row["tag"], row["needs"]) for row in one["one_step_short"]] == [("0202", "Strip")]
    assert main(["outside"]) == 0
    text = capsys.readouterr().out
    assert f"runs dry about {dry:%A} {dry.day} {dry:%B}" in text
    assert "one step short: 0202 Fitting 0202 needs Strip, C2" in text
    assert "There is no vendor XX" in str(said(capsys, 1, "outside", "XX")["refused"])
