"""One act, said once: the transaction's first insert is its act row, its last the result.

The same id with the same content returns the stored result; with other content it is refused.
"""

import hashlib
import json
import uuid
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from django.db import DatabaseError, IntegrityError, OperationalError, connection, transaction

from witnessmark.records import guards
from witnessmark.records.lookups.day import now
from witnessmark.records.models import Act, ActResult, Aircraft, Move, Person, Role

Result = dict[str, Any]
WRITERS = (Role.LEAD, Role.MECHANIC, Role.INSPECTOR)

VERBS = {
    # the first hour
    "begin_record": "began the record",
    "let_in": "let somebody in",
    "load_lists": "loaded lists",
    "take_off": "took off",
    "put_back": "put back",
    "lay_down": "laid down",
    "send_out": "sent out",
    "receive_back": "received back",
    "mark_not_found": "could not find",
    "scrap": "scrapped",
    "add_finding": "found",
    "decide": "decided",
    "finish_step": "finished a step",
    "finish_rack": "finished a step of a rack",
    "say_of_job": "said of a job",
    "book_hours": "booked hours",
    "take_back_hours": "took back hours",
    "leave_open": "left a job open",
    "take_back_word": "took back what was said of a job",
    "say_primed": "primed bare metal",
    "take_up": "took a job up again",
    "look_at_row": "looked at a row",
    "fill_holes": "filled holes",
    "photograph": "photographed",
    "tag_on": "put a tag on",
    "tag_off": "took a tag off",
    "order_leaves": "let an order leave",
    "measure_box": "measured a box of rivets",
    "order_came": "took an order in",
    "set_order_risks": "set the chances accepted for the rivet order",
    "say_wanted_by": "said by when the rivets are wanted",
    "keep_what_if": "kept a what-if",
    "undo": "took back",
    # The plan by hand: who does what when, what waits for what, jobs nobody can derive, work without gaps, speed.
    "fix_job": "fixed a job",
    "tie_jobs": "tied a job to another",
    "write_job": "wrote down a job",
    "strike_job": "struck out a job",
    "say_continuous": "said who is kept in work without gaps",
    "say_speed_price": "wrote down what speed costs",
    # which fastener it is, and how much of the aircraft was looked at
    "measure_head": "measured a fastener",
    "add_size": "added a size from measurement",
    "say_structure": "said what structure a row belongs to",
    "say_row_size": "said which size a row holds",
    "settle_row_size": "said whether a row holds what was measured or what the list says",
    "set_unseen_limit": "set the risk of an unseen size",
    "accept_survey_risk": "accepted the risk of an unseen size",
    # Shipments, their papers, the hunt, the trip.
    "say_nature": "said what it is",
    "read_material": "tried with magnet and scales",
    "say_price": "wrote down a price",
    "expect_certificate": "asked for a paper",
    "certificate_came": "filed a paper",
    "lift_quarantine": "let out of quarantine",
    "show_trace": "showed where it comes from",
    "make_outside_link": "made a link for a craftsman outside",
    "take_link_back": "took a craftsman's link back",
    "confirm_receipt": "confirmed that it is there",
    "promise_day": "promised a day",
    "start_hunt": "began to look for",
    "wrong_for_type": "found of the wrong type",
    "ask_after": "asked after",
    "search_stores": "searched the stores for",
    "agree_purchase": "agreed a purchase of",
    "found_arrives": "took in what was found",
    "give_up_hunt": "gave up looking for",
    "plan_trip": "planned a trip",
    "set_out_order": "set the order of the stops",
    "put_on_sheet": "put on a stop's sheet",
    "fill_sheet": "filled a stop's sheet",
    "take_off_sheet": "took off a stop's sheet",
    "load_van": "loaded the van",
    "leave_at_counter": "left at the counter",
    "fetch_at_counter": "fetched at the counter",
    "take_unasked": "took along unasked",
    "refuse_at_counter": "was refused at the counter",
    "sign_stop": "signed a stop",
    "end_trip": "ended a trip",
    # What was read on small pieces, mixed, told apart and claimed.
    "read_piece": "measured",
    "mix_at_vendor": "found mixed at the vendor",
    "receive_mixed": "received mixed",
    "fetch_bucket_at_counter": "fetched in one bucket",
    "tell_apart": "told apart",
    "say_whose": "said whose a piece of a bucket is",
    "make_claim": "held the vendor to",
    "settle_claim": "settled a claim",
    # The mat.
    "print_mat": "printed a mat",
    "measure_mat": "measured a mat with a ruler",
    "read_mat_picture": "had a picture of the mat read",
    "file_from_mat": "put into a bag from the mat",
    "regroup_mat": "put pieces of a picture of the mat to their like",
    "bind_boxes": "bound the boxes of a mat to tags",
    "file_boxes": "put into bags from the boxes of a mat",
    "sort_anyway": "sorted a bucket although its figures disagree",
    "count_again": "counted a bucket again",
    "strike_reading": "struck out a measured piece of a bucket",
    # Day one: pictures, blank tags, what is said later, the don't-know tray.
    "take_picture": "took a picture in",
    "old_picture": "brought an old picture",
    "say_over": "spoke a note over a picture",
    "print_tags": "had blank tags printed",
    "say_of_piece": "said of a piece",
    "sort_picture": "said what a picture shows",
    "lay_in_tray": "laid into the don't-know tray",
    "look_in_tray": "looked in the don't-know tray",
    # Old pictures sorted, and twins among them.
    "give_pictures": "said what old pictures show",
    "put_off_pictures": "put old pictures off",
    "set_pictures_aside": "set old pictures aside",
    "take_back_sorting": "took back what was said of old pictures",
    "say_twins": "said whether two pictures are the same",
    # Findings, their figures, engineering, and the choices for a piece.
    "see_finding": "saw",
    "draw_ring": "drew a ring on a picture of",
    "measure_finding": "measured a finding",
    "ask_engineering": "asked engineering about",
    "engineering_answers": "wrote down engineering's answer on",
    "reckon_choice": "reckoned a choice for",
    "hand_over": "handed over",
    "say_shop_hour": "said what an hour of the shop costs",
    # Routes: written, reasoned, and the times and fits that go with them.
    "write_route": "wrote the route of",
    "sign_reason": "signed a reason for the route of",
    "say_route_fact": "said what the route hangs on of",
    "say_seat": "measured the seat of",
    "say_when": "said when a step ended of",
    "call_out": "called out by what is done at",
    # Who has what, and lists made before.
    "say_out": "said what is out",
    "name_vendor": "named a vendor",
    "say_it_is": "said which piece is out",
    "rang": "rang about what is out",
    "say_phone": "wrote down the number of",
    "list_comes_in": "brought a list",
    "take_list": "took a list in",
    "say_what_headings_mean": "said what the headings of a list mean",
    # Copies of what happened since a day.
    "make_copy": "made a copy of what happened",
    "end_copy": "ended the link of a copy",
}


class Refused(Exception):
    """An act that did not happen; the message says what was wrong and what to do. Nothing was written."""


class NotAllowed(Refused):
    """The person's role may not say this."""


class SaidOtherwise(Refused):
    """The act's id was used before, for something else."""


def canonical(said: dict[str, Any]) -> str:
    """Write what was said the same way every time, so that its hash tells twice from otherwise."""
    return json.dumps(said, sort_keys=True, separators=(",", ":"), default=str, ensure_ascii=False)


def _told(act_id: uuid.UUID, digest: str) -> Result | None:
    before = Act.objects.filter(pk=act_id).select_related("actresult").first()
    if before is None:
        return None
    if before.said_sha256 != digest:
        raise SaidOtherwise(
            f"Act {act_id} was recorded before with other content. The first stands, nothing was changed. Say it again as a new act."
        )
    return dict(before.actresult.result)


def _plainly(error: DatabaseError) -> str | None:
    text = str(error)
    if guards.PREFIX in text:
        why = text.split(guards.PREFIX, 1)[1].split("\n", 1)[0].strip()
        return f"{why[0].upper()}{why[1:]}. Nothing was changed."
    return None


def say(
    verb: str,
    *,
    by: Person,
    act_id: uuid.UUID,
    said: dict[str, Any],
    do: Callable[[Act], Result],
    aircraft: Aircraft | None = None,
    happened_at: datetime | None = None,
    roles: Iterable[str] = WRITERS,
    undoes: Act | None = None,
) -> Result:
    """Record one act and what it does, once, in one transaction.

    Raises NotAllowed, SaidOtherwise or Refused; then nothing was written.
    """
    if verb not in VERBS:
        raise LookupError(f"'{verb}' is no registered verb")
    if by.role not in roles:
        raise NotAllowed(
            f"{by.name} is {by.get_role_display().lower()} and may read this, not change it. Nothing was changed."
        )
    text = canonical({"verb": verb, **said})
    if "\\u0000" in text:
        raise Refused("The text holds a character that cannot be written. Nothing was changed. Write it anew.")
    digest = hashlib.sha256(text.encode()).hexdigest()
    tries = 1 if connection.in_atomic_block else 5
    for attempt in range(tries):
        try:
            with transaction.atomic():
                told = _told(act_id, digest)
                if told is not None:
                    return told
                act = Act.objects.create(
                    id=act_id,
                    verb=verb,
                    person=by,
                    aircraft=aircraft,
                    said=json.loads(canonical(said)),
                    said_sha256=digest,
                    happened_at=happened_at or now(aircraft),
                    undoes=undoes,
                )
                result = do(act)
                ActResult.objects.create(act=act, result=result)
                return result
        except IntegrityError as error:
            told = None if connection.in_atomic_block else _told(act_id, digest)  # two sent it in the same moment
            if told is not None:
                return told
            raise Refused(
                _plainly(error)
                or "The record refused this: it does not go with what stands there already. Nothing was changed. "
                "Open the page again and look at what stands there."
            ) from error
        except OperationalError:
            if attempt + 1 == tries:  # a deadlock or a busy database; the act's id makes another try harmless
                raise
    raise AssertionError("unreachable")


def move(act: Act, moves: Iterable[Move]) -> int:
    """Write an act's moves sorted by piece, so that two acts never wait for each other crosswise."""
    rows = sorted(moves, key=lambda m: (m.from_piece_id, m.to_piece_id, m.from_holder_id, m.to_holder_id))
    for row in rows:
        row.act = act
    Move.objects.bulk_create(rows, batch_size=500)
    return len(rows)
