"""The same picture twice: looked for once as it comes in, told by a person; nothing is deleted, the larger stands in front."""

import uuid

from django.db.models import Q

from witnessmark.calc.pictures.likeness import Likeness, Pair, alike
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import Act, Person, Photo, PhotoLikeness, PhotoUse, PictureIn, Twins
from witnessmark.records.photo_store import NotAPicture, likeness_anew
from witnessmark.records.work import Leased, enqueue

_AT_ONCE = 200


def seek_twins() -> None:
    """Have what came in held against the rest, in the background."""
    enqueue("find_twins", "all")


def find_twins(work: Leased | None = None) -> int:
    """Hold each picture that came in since against all others, and note the pairs; gives how many are new.

    Exact twins never come here: the same bytes are kept once.
    """
    _likenesses_anew()
    waiting = list(PhotoLikeness.objects.filter(held=False).order_by("pk").values_list("pk", flat=True))
    made = 0
    for start in range(0, len(waiting), _AT_ONCE):
        some = waiting[start : start + _AT_ONCE]
        # Those not held yet come last and only up to this batch, so that each pair is met once.
        every = PhotoLikeness.objects.filter(Q(held=True) | Q(pk__in=some)).order_by("pk")
        keys, known = [], []
        for key, signs, small in every.values_list("pk", "signs", "small").iterator():
            keys.append(key)
            known.append(Likeness(signs, bytes(small)))
        place = {key: n for n, key in enumerate(keys)}
        pairs: dict[tuple[str, str], Pair] = {}
        for pair in alike([known[place[key]] for key in some], known):
            one, other = sorted((some[pair.new], keys[pair.known]))
            if one != other:
                pairs.setdefault((one, other), pair)
        before = set(Twins.objects.filter(photo__in=[one for one, _ in pairs]).values_list("photo", "other"))
        fresh = [
            Twins(photo_id=one, other_id=other, signs=pair.signs, quarters=pair.quarters)
            for (one, other), pair in pairs.items()
            if (one, other) not in before
        ]
        made += len(Twins.objects.bulk_create(fresh, ignore_conflicts=True))
        PhotoLikeness.objects.filter(pk__in=some).update(held=True)
        if work is not None:
            work.progress(f"{start + len(some):,} of {len(waiting):,} pictures held against the others")
    return made


def _likenesses_anew() -> None:
    """Take the likeness of what came in before there were any; what cannot be read any more has none."""
    for photo in Photo.objects.filter(likeness=None).iterator():
        try:
            found = likeness_anew(photo)
        except (NotAPicture, OSError):
            found = Likeness("", b"")
        PhotoLikeness.objects.get_or_create(photo=photo, defaults={"signs": found.signs, "small": found.small})


def say_twins(*, by: Person, act_id: uuid.UUID, twins: Twins, same: bool | None) -> Result:
    """Say whether two pictures are the same one; None takes back what was said.

    Of the same, the larger stands in front: it shows whatever the smaller was given to, and the smaller asks nothing more.
    """

    def do(act: Act) -> Result:
        row = Twins.objects.select_for_update().get(pk=twins.pk)
        if row.same is same:
            raise Refused("That was said already. Nothing was changed.")
        if row.act is not None:
            PhotoUse.objects.filter(act=row.act, rings=None).delete()  # what the larger was given only because of it
        row.same, row.act = same, act
        row.save(update_fields=["same", "act"])
        front = _stand(act, {row.photo_id, row.other_id})
        return {"twins": row.pk, "same": same, "front": front}

    said = {"twins": twins.pk, "same": same}
    return say("say_twins", by=by, act_id=act_id, said=said, do=do)


def _stand(act: Act, asked: set[str]) -> str | None:
    """Put the largest of each set of same pictures in front of the others, after a word on two of them."""
    front = None
    left = set(asked)
    while left:
        together = _together(next(iter(left)))
        left -= together
        photos = sorted(Photo.objects.filter(pk__in=together), key=lambda p: (-p.width * p.height, -p.bytes, p.sha256))
        largest, behind = photos[0], photos[1:]
        Photo.objects.filter(pk=largest.pk).update(behind=None)
        if behind:
            Photo.objects.filter(pk__in=[p.pk for p in behind]).update(behind=largest)
            front = largest.pk
            for use in PhotoUse.objects.filter(photo__in=behind).order_by("id"):
                PhotoUse.objects.get_or_create(
                    photo=largest, piece=use.piece, place=use.place, finding=use.finding, zone=use.zone,
                    defaults={"what": use.what, "act": act},
                )  # fmt: skip
            if PhotoUse.objects.filter(photo=largest).exists():
                PictureIn.objects.filter(photo=largest, answered_act=None).exclude(asks="").update(answered_act=act)
    return front


def _together(photo: str) -> set[str]:
    """All pictures that were said to be the same as this one, by way of others too."""
    found, ask = {photo}, [photo]
    while ask:
        rows = Twins.objects.filter(Q(photo__in=ask) | Q(other__in=ask), same=True).values_list("photo", "other")
        ask = [each for pair in rows for each in pair if each not in found]
        found.update(ask)
    return found
