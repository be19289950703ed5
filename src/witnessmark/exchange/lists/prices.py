"""What a vendor asks for his work, and what an hour of the shop costs: optional columns of the lists."""

from decimal import Decimal

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import ListFile
from witnessmark.records.actions.choices import read_shop_hour
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import ShopHourSaid, Vendor, VendorPrice

# The column of the list, and the figure of the record that it gives.
RATES = {
    "price_least": "least_charge",
    "price_per_kg": "per_kg",
    "price_per_piece": "per_piece",
    "price_per_dm2": "per_dm2",
}


def newest_prices() -> dict[int, VendorPrice]:
    """The newest price of each vendor for all that he does."""
    return {price.vendor_id: price for price in VendorPrice.objects.filter(process="").order_by("id")}


def price_in(f: ListFile, c: dict[str, str], vendor: Vendor, have: VendorPrice | None) -> VendorPrice | None:
    """Read the price in one row: a new one where the record has none or an older one, else nothing.

    A price that was said on the same day or later in the record, and differs, stays as the record has it.
    """
    given = [column for column in RATES if c[column]]
    if not given:
        if c["currency"] or c["price_said_on"]:
            raise Wrong(f"There is a currency or a day and no price. Fill one of {', '.join(RATES)}, or empty both")
        return None
    if not (len(c["currency"]) == 3 and c["currency"].isascii() and c["currency"].isalpha()):
        raise Wrong(f"currency is '{c['currency']}'. Beside a price stand three letters, such as EUR")
    said_on = f.day("price_said_on")
    if said_on is None:
        raise Wrong("price_said_on is empty. A price has the day on which the vendor said it")
    rates = dict.fromkeys(RATES.values(), Decimal(0))
    for column in given:
        amount = Decimal(str(cells.number(c[column], column)))
        rates[RATES[column]] = amount.quantize(Decimal("0.01"))
    if not any(rates.values()):
        raise Wrong("Every figure of the price is nought. Write what the vendor asks, or empty the price columns")
    currency = c["currency"].upper()
    if have is not None:
        same = have.currency == currency and all(getattr(have, name) == rate for name, rate in rates.items())
        if same:
            return None
        if have.said_on >= said_on:
            f.differs(
                f"The price of {vendor.name}", _words(rates, currency, f"said on {said_on}"),
                _words({name: getattr(have, name) for name in rates}, have.currency, f"said on {have.said_on}"),
                "Write the day on which he said the new one, or say it on the packing page.",
            )  # fmt: skip
            return None
    return f.new(VendorPrice, vendor=vendor, currency=currency, said_on=said_on, **rates)


def _words(rates: dict[str, Decimal], currency: str, when: str) -> str:
    told = [f"{name.replace('_', ' ')} {rate}" for name, rate in rates.items() if rate]
    return f"{', '.join(told)} {currency} {when}"


def shop_hour_in(f: ListFile, c: dict[str, str]) -> ShopHourSaid | None:
    """Read what an hour of the shop costs: a new row where the record has none or another for that day, else nothing."""
    if not c["shop_hour"] and not c["shop_hour_since"]:
        return None
    since = f.day("shop_hour_since")
    if since is None or not c["shop_hour"]:
        raise Wrong("shop_hour and shop_hour_since go together. Fill both, or empty both")
    try:
        amount, currency = read_shop_hour(c["shop_hour"])
    except Refused as why:
        raise Wrong(str(why).replace(" Nothing was changed.", "").rstrip(".")) from None
    have = ShopHourSaid.objects.filter(since=since).order_by("-id").first()
    if have is not None and (have.amount, have.currency) == (amount, currency):
        return None
    return f.new(ShopHourSaid, amount=amount, currency=currency, since=since)
