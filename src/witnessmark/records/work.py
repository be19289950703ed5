"""Background work: a row is leased by one worker at a time, done at least once, and outlives a killed worker.

A lease that runs out is taken again. `tries` counts the leases and tells them apart: a worker that was taken for dead
and wakes up holds an old count, and nothing it says of the work counts any more.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db import IntegrityError, connection, transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from witnessmark.records.models import Work

LEASE = timedelta(minutes=2)
MOST_TRIES = 3


class Stopped(Exception):
    """The handler ends here: its work was cancelled or went to another worker, or its worker was told to end."""


@dataclass(frozen=True)
class Leased:
    """A piece of work in this worker's hands."""

    id: int
    kind: str
    key: str
    args: dict[str, Any]
    tries: int
    told_to_end: Callable[[], bool] = lambda: False

    def progress(self, text: str) -> None:
        """Say how far it is, which keeps the lease; raises Stopped when the handler is to end."""
        if self.told_to_end():
            raise Stopped("the worker was told to end")
        kept = _mine(self).filter(cancel=False)
        if not kept.update(progress=text[:200], leased_until=timezone.now() + LEASE):
            raise Stopped(f"{self.kind} {self.key} was cancelled or went to another worker")


Handler = Callable[[Leased], None]
HANDLERS: dict[str, Handler] = {}


def handles(kind: str) -> Callable[[Handler], Handler]:
    """Register what does work of this kind. It may be called twice for one work and must not mind."""

    def register(handler: Handler) -> Handler:
        if kind in HANDLERS:
            raise LookupError(f"work of kind '{kind}' has a handler already")
        HANDLERS[kind] = handler
        return handler

    return register


def enqueue(kind: str, key: str, args: dict[str, Any] | None = None) -> Work:
    """Have something done after this transaction; while one of the same key waits, no second is added.

    The waiting row is updated, not only read, so that a worker cannot take it before what is said here is to be seen.
    """
    if kind not in HANDLERS:
        raise LookupError(f"no handler does work of kind '{kind}'")
    waiting = Work.objects.filter(kind=kind, key=key, state="waiting")
    for _ in range(5):
        if waiting.update(args=args or {}, cancel=False):
            found = waiting.first()
            if found is not None:
                return found
        try:
            with transaction.atomic():
                return Work.objects.create(kind=kind, key=key, args=args or {})
        except IntegrityError:
            continue  # another added it in the same moment
    raise RuntimeError(f"work {kind} {key} could not be added")


def cancel(work: Work) -> None:
    """Take waiting work back at once; a running one ends at its next word of progress."""
    if not Work.objects.filter(pk=work.pk, state="waiting").update(state="cancelled"):
        Work.objects.filter(pk=work.pk, state="leased").update(cancel=True)


def _mine(work: Leased) -> "QuerySet[Work]":
    return Work.objects.filter(pk=work.id, state="leased", tries=work.tries)


def _free() -> "QuerySet[Work]":
    """Give what may be taken: what waits while none of its key is under way, and leases that ran out."""
    under_way = Work.objects.filter(kind=OuterRef("kind"), key=OuterRef("key"), state="leased")
    waits = Q(state="waiting") & ~Exists(under_way)
    return Work.objects.filter(waits | Q(state="leased", leased_until__lt=timezone.now()), kind__in=HANDLERS)


def lease(told_to_end: Callable[[], bool] = lambda: False) -> Leased | None:
    """Take one piece of work, the oldest first, or none."""
    while _free().exists():  # looking costs no lock, so that an idle worker holds nobody up
        with transaction.atomic():
            free = _free().order_by("pk")
            if connection.features.has_select_for_update_skip_locked:
                free = free.select_for_update(skip_locked=True)
            found = free.first()
            if found is None:
                return None
            # On SQLite the condition in the update decides who gets it; on PostgreSQL the row is locked already.
            still = Work.objects.filter(pk=found.pk, state=found.state, tries=found.tries)
            if found.cancel:
                still.update(state="cancelled")
                continue
            if found.tries >= MOST_TRIES:
                still.update(state="failed", error=f"The worker died on it {found.tries} times. {found.error}".strip())
                continue
            if still.update(state="leased", tries=F("tries") + 1, leased_until=timezone.now() + LEASE):
                return Leased(found.pk, found.kind, found.key, found.args, found.tries + 1, told_to_end)
    return None


def do_one(told_to_end: Callable[[], bool] = lambda: False) -> bool:
    """Take one piece of work and do it; False when nothing waits.

    A worker told to end puts back what it has in hand, and the try does not count.
    """
    work = lease(told_to_end)
    if work is None:
        return False
    try:
        HANDLERS[work.kind](work)
    except Stopped:
        if not _mine(work).filter(cancel=True).update(state="cancelled", leased_until=None):
            _put_back(work, tries=F("tries") - 1)
    except Exception as error:  # whatever it is, it belongs to this work and must not end the worker
        fail(work, f"{type(error).__name__}: {error}")
    else:
        _mine(work).update(state="done", leased_until=None, error="")
    return True


def fail(work: Leased, why: str) -> None:
    """Put work back to be tried again, or down as failed after the third try."""
    if work.tries >= MOST_TRIES:
        _mine(work).update(state="failed", leased_until=None, error=why)
        return
    _put_back(work, error=why)


def _put_back(work: Leased, **values: Any) -> None:
    try:
        with transaction.atomic():
            _mine(work).update(state="waiting", leased_until=None, **values)
    except IntegrityError:  # the same was asked for again meanwhile: that one will do it
        _mine(work).update(state="cancelled", leased_until=None, error="The same was asked for again.")


@handles("derive_jobs")
def _derive_jobs(work: Leased) -> None:
    from witnessmark.records.actions.jobs import derive_jobs
    from witnessmark.records.models import Aircraft

    aircraft = Aircraft.objects.filter(pk=work.args["aircraft"]).first()
    if aircraft is not None:
        derive_jobs(aircraft)
        enqueue("foresee", str(aircraft.pk), {"aircraft": aircraft.pk})


@handles("foresee")
def _foresee(work: Leased) -> None:
    from witnessmark.records.actions.forecast import foresee
    from witnessmark.records.models import Aircraft

    aircraft = Aircraft.objects.filter(pk=work.args["aircraft"]).first()
    if aircraft is not None:
        foresee(aircraft, work)


@handles("make_copies")
def _make_copies(work: Leased) -> None:
    """Make the small copies of all pictures beforehand, so that nobody waits for the first look."""
    from witnessmark.records.models import Photo
    from witnessmark.records.photo_store import copy_path, original_path, served_copy

    photos = list(Photo.objects.order_by("sha256"))
    for number, photo in enumerate(photos, 1):
        missing = [width for width in (320, 800) if not copy_path(photo, width).exists()]
        if missing and original_path(photo.sha256).exists():
            for width in missing:
                served_copy(photo, width)
            work.progress(f"{number} of {len(photos)} pictures")


@handles("find_twins")
def _find_twins(work: Leased) -> None:
    """Hold what came in against all other pictures; known here, so that a worker that saw no screen does it."""
    from witnessmark.records.actions.twins import find_twins

    find_twins(work)
