"""Tests outside whose piece is back and whose result nobody has read yet."""

from collections import Counter
from collections.abc import Mapping

from django.db.models import F

from witnessmark.records.models import Aircraft, ShipmentLine, Step


def results_to_read(aircraft: Aircraft) -> Mapping[tuple[int, str], int]:
    """By piece and vendor's code, how many trips to him are over beyond the steps at him that are done."""
    back = ShipmentLine.objects.filter(piece__aircraft=aircraft, count_back=F("count_out"))
    done = Step.objects.filter(piece__aircraft=aircraft).exclude(done_act=None)
    over = Counter(back.values_list("piece_id", "shipment__vendor__code"))
    over.subtract(pair for pair in done.values_list("piece_id", "who") if pair in over)
    return {pair: n for pair, n in over.items() if n > 0}
