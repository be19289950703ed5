"""What came back from a vendor has that vendor's steps behind it."""

from collections.abc import Iterable
from itertools import takewhile

from witnessmark.calc.bags.leaving import is_test
from witnessmark.records.models import Act, Shipment, Step


def finish_at_vendor_in(act: Act, shipment: Shipment, pieces: Iterable[int]) -> list[str]:
    """Finish what these pieces were at the shipment's vendor for: the first of his open steps of each, and his next.

    That it was done there is not doubted because a step before it was never said to be done: that one stays open. A
    crack test stays open as well, until somebody has read its result.
    """
    open_steps: dict[int, list[Step]] = {}
    waiting = Step.objects.select_for_update().filter(piece__in=list(pieces), done_act=None)
    for step in waiting.order_by("piece_id", "number"):
        open_steps.setdefault(step.piece_id, []).append(step)
    code, done = shipment.vendor.code, []
    for steps in open_steps.values():
        first = next((at for at, step in enumerate(steps) if step.who == code), len(steps))
        done += list(takewhile(lambda step: step.who == code and not is_test(step.name), steps[first:]))
    Step.objects.filter(pk__in=[step.pk for step in done]).update(done_act=act)
    return list(dict.fromkeys(step.name for step in done))
