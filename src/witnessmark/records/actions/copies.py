"""Making a copy for the owner or the public with a link that runs out, and ending that link."""

import secrets
import uuid
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from witnessmark.calc.since import WITHHELD
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.copies import Report, Ticks, content, report, token_hash, warnings
from witnessmark.records.lookups.since import NoSuchDay
from witnessmark.records.models import Act, Aircraft, CopyEnded, CopyOpened, Person, Role, SentCopy

SHORTEST, LONGEST = timedelta(days=1), timedelta(days=365)
USUAL_DAYS = 30
TOKEN_BYTES = 32  # 256 bits


def make_copy(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    for_whom: str,
    since: date,
    ticks: Ticks,
    lasts: timedelta,
    knowing: bool = False,
) -> tuple[str, SentCopy]:
    """Make a copy as it is ticked and give its link's token, told here and nowhere else.

    A public copy in whose typed words the record finds what is withheld is refused, unless `knowing` says that the
    warnings were read. Said twice, the first copy stands and no second token is told.
    """
    if not SHORTEST <= lasts <= LONGEST:
        raise Refused(f"A link lasts from {SHORTEST.days} to {LONGEST.days} days. No copy was made.")
    told = gathered(aircraft, for_whom, since)
    _refuse_unknown(told, ticks)
    made = content(told, ticks)
    if not made["sections"] and not made["pictures"]:
        raise Refused("Nothing is ticked, so there is nothing to send. No copy was made. Tick a line or a picture.")
    warned = warnings(told, ticks)
    if warned and not knowing:
        first = warned[0]
        raise Refused(
            f"The public copy would hold what is not ticked for it: {first.words} in “{first.says}”"
            f"{f', and {len(warned) - 1} more' if len(warned) > 1 else ''}. "
            "No copy was made. Untick those words, or say that you have read the warnings."
        )
    token = secrets.token_urlsafe(TOKEN_BYTES)
    now = timezone.now()

    def do(act: Act) -> Result:
        copy = SentCopy.objects.create(
            aircraft=aircraft,
            for_whom=for_whom,
            since=told.days.since,
            until=told.days.until,
            content=made,
            token_sha256=token_hash(token),
            made_at=now,
            expires_at=now + lasts,
            act=act,
        )
        return {"copy": copy.pk, "token_sha256": copy.token_sha256}

    said = {
        "for": for_whom,
        "since": since,
        "days": lasts.total_seconds() / 86400,
        "ticks": ticks.said(),
        "knowing": bool(warned),
    }
    result = say("make_copy", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, roles=(Role.LEAD,))
    if result["token_sha256"] != token_hash(token):
        raise Refused("This copy was made before, and its link is told only once. Make another one.")
    return token, SentCopy.objects.get(pk=result["copy"])


def gathered(aircraft: Aircraft, for_whom: str, since: date | None) -> Report:
    """Gather what could be told; a day or readers that cannot be are refused."""
    if for_whom not in ("owner", "public"):
        raise Refused(f"A copy is for the owner or for the public, not for '{for_whom[:40]}'. No copy was made.")
    try:
        return report(aircraft, for_whom, since)
    except NoSuchDay as why:
        raise Refused(str(why)) from None


def _refuse_unknown(told: Report, ticks: Ticks) -> None:
    """What is ticked must still be there: a page drawn yesterday may speak of what changed since."""
    lines = {line.key for line in told.lines}
    photos = {one.photo for pair in told.pictures.pairs for one in pair.pictures}
    if not ticks.lines | ticks.words <= lines or not ticks.pictures | ticks.captions <= photos:
        raise Refused("Something that is ticked changed since the page was drawn. No copy was made. Open it again.")
    if not ticks.shown <= set(WITHHELD):
        raise Refused("The form ticks something that is not there. No copy was made. Open the page again.")


def end_copy(*, by: Person, act_id: uuid.UUID, copy: SentCopy) -> Result:
    """End a copy's link before it runs out. What was sent stays on record."""

    def do(act: Act) -> Result:
        if CopyEnded.objects.filter(copy=copy).exists():
            raise Refused("That link is ended already. Nothing was changed.")
        CopyEnded.objects.create(copy=copy, act=act)
        return {"copy": copy.pk}

    return say(
        "end_copy", by=by, act_id=act_id, said={"copy": copy.pk}, do=do, aircraft=copy.aircraft, roles=(Role.LEAD,)
    )


def count_opening(copy: SentCopy, at: datetime | None = None) -> None:
    """Count that a stranger opened a copy's page. It is no act: nobody of the shop did it, and nobody is named."""
    at = at or timezone.now()
    with transaction.atomic():
        CopyOpened.objects.get_or_create(copy=copy, defaults={"last_at": at})
        CopyOpened.objects.filter(copy=copy).update(count=F("count") + 1, last_at=at)
