"""Photographs: files beside the lists, kept as they are, and what they show."""

from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import ListFile, Writer, noon
from witnessmark.exchange.lists.finding_figures import not_ringed, ring_of, write_rings
from witnessmark.exchange.lists.known import Known, subject
from witnessmark.records.actions.findings import Ring
from witnessmark.records.models import Act, Finding, Photo, PhotoUse
from witnessmark.records.photo_store import NotAPicture, keep_bytes


def photos(f: ListFile) -> Writer:
    """Photographs by the bytes of their file and what they show."""
    known = Known(f.machine)
    numbers = {one.number: one for one in Finding.objects.filter(aircraft=f.machine)}
    have = {
        (use.photo_id, name, getattr(use, f"{name}_id")): use
        for use in PhotoUse.objects.prefetch_related("rings")
        for name in ("piece", "place", "finding", "zone")
        if getattr(use, f"{name}_id") is not None
    }
    made: list[PhotoUse] = []
    reworded: list[PhotoUse] = []
    dated: list[Photo] = []
    rings: list[tuple[PhotoUse, Ring]] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["file"], c["subject"], what=f"{c['file']} of {c['subject']}")
            if c["subject"] in numbers:
                on: dict[str, object] = {"finding": numbers[c["subject"]]}
            else:
                on = dict(subject(known, c["subject"]))
                on.pop("hole", None)
            ring = ring_of(c["ring"])
            if ring is not None and "finding" not in on:
                raise Wrong("A ring lies on a finding's picture. Name the finding, or leave the ring out")
            taken = noon(f.day("taken_on"))
            what = ", ".join(part for part in (c["what"], f"by {c['by']}" if c["by"] else "") if part)
            f.fit(PhotoUse, {"what": what})
            photo = keep_picture(f, c["file"])
            (name, thing), *_ = on.items()
            use = have.get((photo.pk, name, thing.pk))  # type: ignore[attr-defined]
            if taken is not None and photo.taken_at is None:
                f.update(photo, taken_at=taken)
                dated.append(photo)
            if use is None:
                made.append(f.new(PhotoUse, photo=photo, what=what, **on))
            elif f.update(use, what=what):
                reworded.append(use)
            if ring is not None and not_ringed(use):
                f.news("ring", c["file"], c["ring"])
                rings.append((use or made[-1], ring))

    def write(act: Act) -> None:
        for use in made:
            use.act = act
        Photo.objects.bulk_update(dated, ["taken_at"], batch_size=200)
        PhotoUse.objects.bulk_create(made, batch_size=500)
        write_rings(act, rings)
        PhotoUse.objects.bulk_update(reworded, ["what"], batch_size=200)

    return write


def keep_picture(f: ListFile, file: str) -> Photo:
    """Keep the picture's bytes; a file that nobody speaks of in the end does no harm."""
    assert f.photo is not None
    try:
        return keep_bytes(f.photo(file), file)
    except NotAPicture as wrong:
        raise Wrong(str(wrong).replace(" Nothing was kept.", "").rstrip(".")) from None
