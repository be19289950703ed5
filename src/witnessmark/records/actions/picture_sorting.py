"""Old pictures given to a zone, a place or a piece, a few at a time; put off, set aside, and the last word taken back."""

import uuid
from collections.abc import Sequence

from django.db.models import F, ProtectedError

from witnessmark.records.actions.saying import NotAllowed, Refused, Result, say
from witnessmark.records.lookups.old_pictures import SORTING, unsorted_in
from witnessmark.records.models import Act, Person, Photo, PhotoUse, PictureIn, Piece, Place, Zone

MOST_AT_ONCE = 200


def give_pictures(
    *,
    by: Person,
    act_id: uuid.UUID,
    photos: Sequence[Photo],
    zone: Zone | None = None,
    place: Place | None = None,
    piece: Piece | None = None,
) -> Result:
    """Say what unsorted pictures show: one zone, one place or one piece, all of them the same.

    What another gave meanwhile stays as that one said it, and is counted under `before`.
    """
    shown = [each for each in (zone, place, piece) if each is not None]
    if len(shown) != 1:
        raise Refused("Say what they show: one zone, one place or one piece. Nothing was changed.")
    _some(photos)

    def do(act: Act) -> Result:
        mine = _still_unsorted(photos)
        PhotoUse.objects.bulk_create(
            [PhotoUse(photo_id=sha256, zone=zone, place=place, piece=piece, act=act) for sha256 in mine]
        )
        PictureIn.objects.filter(photo__in=mine, answered_act=None).exclude(asks="").update(answered_act=act)
        return {"photos": mine, "before": len(photos) - len(mine), "shows": str(shown[0])}

    said = {
        "photos": sorted(photo.sha256 for photo in photos),
        "zone": zone.pk if zone else None,
        "place": place.pk if place else None,
        "piece": piece.pk if piece else None,
    }
    aircraft = piece.aircraft if piece else place.aircraft if place else zone.aircraft if zone else None
    return say("give_pictures", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft)


def put_off_pictures(*, by: Person, act_id: uuid.UUID, photos: Sequence[Photo]) -> Result:
    """Not now: they come again when all the others were looked at."""
    _some(photos)

    def do(act: Act) -> Result:
        mine = _still_unsorted(photos)
        PictureIn.objects.filter(photo__in=mine).update(not_now=F("not_now") + 1)
        return {"photos": mine, "before": len(photos) - len(mine)}

    said = {"photos": sorted(photo.sha256 for photo in photos)}
    return say("put_off_pictures", by=by, act_id=act_id, said=said, do=do)


def set_pictures_aside(*, by: Person, act_id: uuid.UUID, photos: Sequence[Photo]) -> Result:
    """They show nothing of the aircraft: kept, and asked about no more."""
    _some(photos)

    def do(act: Act) -> Result:
        mine = _still_unsorted(photos)
        PictureIn.objects.filter(photo__in=mine).update(aside_act=act)
        return {"photos": mine, "before": len(photos) - len(mine)}

    said = {"photos": sorted(photo.sha256 for photo in photos)}
    return say("set_pictures_aside", by=by, act_id=act_id, said=said, do=do)


def take_back_sorting(*, by: Person, act_id: uuid.UUID, act: Act) -> Result:
    """Take back one's own last word on old pictures: they are unsorted again, where they were."""
    if act.verb not in SORTING:
        raise Refused("That was no word on old pictures. Nothing was changed.")
    if act.person_id != by.pk:
        raise NotAllowed(f"{act.person.name} said so: it is his to take back. Nothing was changed.")

    def do(back: Act) -> Result:
        mine = list(act.actresult.result["photos"])
        if act.verb == "give_pictures":
            try:
                PhotoUse.objects.filter(act=act).delete()
            except ProtectedError:
                raise Refused("A ring was drawn on it since. Nothing was changed.") from None
            PictureIn.objects.filter(answered_act=act).update(answered_act=None)
        elif act.verb == "put_off_pictures":
            PictureIn.objects.filter(photo__in=mine, not_now__gt=0).update(not_now=F("not_now") - 1)
        else:
            PictureIn.objects.filter(aside_act=act).update(aside_act=None)
        return {"photos": mine}

    said = {"act": str(act.pk)}
    return say("take_back_sorting", by=by, act_id=act_id, said=said, do=do, aircraft=act.aircraft, undoes=act)


def _some(photos: Sequence[Photo]) -> None:
    if not photos:
        raise Refused("No picture is picked. Nothing was changed. Pick one or more.")
    if len(photos) > MOST_AT_ONCE:
        raise Refused(f"At most {MOST_AT_ONCE} pictures go at once. Nothing was changed. Pick fewer.")


def _still_unsorted(photos: Sequence[Photo]) -> list[str]:
    asked = [photo.sha256 for photo in photos]
    still = set(unsorted_in().filter(photo__in=asked).values_list("photo", flat=True))
    if not still:
        raise Refused("Somebody sorted these meanwhile. Nothing was changed. Open the page again.")
    return [sha256 for sha256 in asked if sha256 in still]
