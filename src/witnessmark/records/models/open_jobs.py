"""Jobs left open on a bench: where it stands, what lies loose, what is bare, what is borrowed, and what became of it."""

from django.db import models

from witnessmark.records.models.answers import Photo
from witnessmark.records.models.ledger import Act, Piece, Place
from witnessmark.records.models.people import Person


class JobLeft(models.Model):
    """A job laid down unfinished, so that another can take it up; what was said then stays as it was said."""

    key = models.CharField(max_length=120, db_index=True)
    what = models.CharField(max_length=300, help_text="the job in words, as it was called when it was left")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    left_at = models.DateTimeField()
    row = models.ForeignKey(Place, models.PROTECT, null=True, related_name="+")
    next_hole = models.PositiveIntegerField(null=True)
    next_words = models.CharField(max_length=300)
    bare_where = models.CharField(max_length=200, blank=True)
    bare_since = models.DateTimeField(null=True)
    prime_within_hours = models.FloatField(null=True)
    bare_because = models.CharField(max_length=300, blank=True)
    lies_at = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)
    photo = models.ForeignKey(Photo, models.PROTECT, null=True, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="left_jobs")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(bare_where="") | models.Q(bare_since__isnull=False), name="bare_metal_has_a_clock"
            ),
        )

    def __str__(self) -> str:
        return f"{self.what} left at: {self.next_words}"


class LeftThing(models.Model):
    """What lies with a job left open: a loose bag, or something borrowed from it or lent to it."""

    left = models.ForeignKey(JobLeft, models.PROTECT, related_name="things")
    kind = models.CharField(max_length=10, choices=[("bag", "loose bag"), ("borrowed", "borrowed from it")])
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="+")
    words = models.CharField(max_length=200)

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.words


class LeftAfter(models.Model):
    """What came after: the bare metal was primed, somebody took the job up again."""

    left = models.ForeignKey(JobLeft, models.PROTECT, related_name="after")
    what = models.CharField(max_length=10, choices=[("primed", "primed"), ("taken_up", "taken up again")])
    at = models.DateTimeField()
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.UniqueConstraint(fields=["left", "what"], name="left_after_once"),)

    def __str__(self) -> str:
        return f"{self.left_id}: {self.what}"
