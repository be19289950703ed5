"""Day one: pictures as they come in, spoken notes, printed tags, what is not said yet, and the don't-know tray."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.aircraft import Aircraft
from witnessmark.records.models.answers import Photo
from witnessmark.records.models.fasteners import FastenerSize
from witnessmark.records.models.hunt import Hunt
from witnessmark.records.models.ledger import Act, Piece


class PictureIn(models.Model):
    """One picture as it arrived. A photograph that shows nothing yet (no PhotoUse) is *unsorted*, and counted."""

    act = models.OneToOneField(Act, models.PROTECT, primary_key=True, related_name="picture_in")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="arrivals")
    aircraft = models.ForeignKey(Aircraft, models.PROTECT, null=True)
    said_taken_at = models.DateTimeField(null=True, help_text="by the phone's own clock, as it came")
    taken_at = models.DateTimeField(help_text="what counts: the phone's time where its clock is right, else the shop's")
    clock_off_seconds = models.BigIntegerField(
        null=True, help_text="the phone's clock before (+) or behind (-) the shop's"
    )
    dated_by = models.CharField(
        max_length=12, blank=True, help_text="camera, satellites, name, file, phone; empty: nothing tells"
    )
    date_doubt = models.CharField(max_length=200, blank=True, help_text="why its day cannot be true")
    not_now = models.PositiveIntegerField(default=0, help_text="how often it was put off while sorting")
    tags_read = models.JSONField(default=list)
    asks = models.CharField(max_length=300, blank=True, help_text="a question that a person has to answer")
    answered_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    aside_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("act_id",)
        indexes = (models.Index(fields=["taken_at"], name="picture_in_taken_at"),)

    def __str__(self) -> str:
        return f"{self.photo_id[:12]} of {self.taken_at:%Y-%m-%d %H:%M}"


class PhotoLikeness(models.Model):
    """What is kept of a picture to find it again (calc/pictures/likeness.py), and whether it was held against the others."""

    photo = models.OneToOneField(Photo, models.PROTECT, primary_key=True, related_name="likeness")
    signs = models.CharField(max_length=128, blank=True)
    small = models.BinaryField(default=bytes)
    held = models.BooleanField(default=False)

    class Meta:
        indexes = (models.Index(fields=["held"], condition=Q(held=False), name="likeness_not_held"),)

    def __str__(self) -> str:
        return f"{self.photo_id[:12]}"


class Twins(models.Model):
    """Two pictures that may be the same one; a person says. Nothing is deleted: the larger stands in front."""

    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")
    other = models.ForeignKey(Photo, models.PROTECT, related_name="+")
    signs = models.PositiveSmallIntegerField(help_text="how many signs of 128 differ")
    quarters = models.PositiveSmallIntegerField(default=0, help_text="quarter turns between them")
    same = models.BooleanField(null=True)
    act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.UniqueConstraint(fields=["photo", "other"], name="twins_once"),
            models.CheckConstraint(condition=Q(photo__lt=models.F("other")), name="twins_in_order"),
        )

    def __str__(self) -> str:
        return f"{self.photo_id[:12]} and {self.other_id[:12]}"


class SoundNote(models.Model):
    """A spoken note, kept like a picture: named by the SHA-256 of its bytes, the file on disk before this row is."""

    sha256 = models.CharField(max_length=64)
    bytes = models.PositiveBigIntegerField()
    type = models.CharField(max_length=40)
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="sounds")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.UniqueConstraint(fields=["sha256", "photo"], name="sound_once_a_picture"),)

    def __str__(self) -> str:
        return f"{self.type} with {self.photo_id[:12]}"


class TagPrinted(models.Model):
    """A blank tag that was printed. A number is given out once for ever, so a lost batch is harmless."""

    tag = models.CharField(max_length=40, primary_key=True)
    batch = models.PositiveIntegerField()
    medium = models.CharField(max_length=40, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("tag",)

    def __str__(self) -> str:
        return self.tag


class NotCounted(models.Model):
    """A piece that came in by its picture: the ledger holds one, until somebody says how many it is."""

    piece = models.OneToOneField(Piece, models.PROTECT, primary_key=True, related_name="not_counted")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")
    counted_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")

    def __str__(self) -> str:
        return f"{self.piece_id}"


class TrayFind(models.Model):
    """An untagged find in the don't-know tray, with what could be measured on it."""

    piece = models.OneToOneField(Piece, models.PROTECT, primary_key=True, related_name="tray_find")
    length_mm = models.FloatField(null=True)
    width_mm = models.FloatField(null=True)
    thickness_mm = models.FloatField(null=True)
    diameter_mm = models.FloatField(null=True)
    magnet = models.CharField(max_length=10, blank=True, help_text="sticks, does not, or not tried")
    size = models.ForeignKey(FastenerSize, models.PROTECT, null=True)
    found_where = models.CharField(max_length=200, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        constraints = tuple(
            models.CheckConstraint(
                condition=Q(**{f"{what}_mm": None}) | Q(**{f"{what}_mm__gt": 0}), name=f"find_{what}"
            )
            for what in ("length", "width", "thickness", "diameter")
        )

    def __str__(self) -> str:
        return f"{self.piece_id}"


class TrayLooked(models.Model):
    """Somebody held a find against what is missing and said whether it is it. The newest word counts."""

    find = models.ForeignKey(TrayFind, models.PROTECT, related_name="looked")
    missing = models.CharField(max_length=80, help_text="what it was held against: hunt:N, piece:N, place:N, size:CODE")
    hunt = models.ForeignKey(Hunt, models.PROTECT, null=True, related_name="tray_looked")
    is_it = models.BooleanField()
    said = models.CharField(max_length=300, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.find_id} {'is' if self.is_it else 'is not'} {self.missing}"
