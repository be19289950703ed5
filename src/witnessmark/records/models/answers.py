"""Stored answers, those relied on, background work, and photographs."""

from typing import TYPE_CHECKING

from django.db import models

from witnessmark.records.models.aircraft import Zone
from witnessmark.records.models.condition import Finding
from witnessmark.records.models.ledger import Act, Piece, Place

if TYPE_CHECKING:
    from witnessmark.records.models.findings import FindingRing


class Answer(models.Model):
    """A computed answer under the hash of its inputs and the version of the code."""

    kind = models.CharField(max_length=60)
    subject = models.CharField(max_length=120)
    inputs = models.JSONField()
    inputs_sha256 = models.CharField(max_length=64)
    result = models.JSONField()
    working = models.JSONField(default=dict)
    code_version = models.CharField(max_length=40)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["kind", "subject", "inputs_sha256", "code_version"], name="answer_once"),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}"


class AnswerReliedOn(models.Model):
    """An answer frozen with the act that relied on it."""

    answer = models.ForeignKey(Answer, models.PROTECT)
    act = models.ForeignKey(Act, models.PROTECT)

    class Meta:
        constraints = (models.UniqueConstraint(fields=["answer", "act"], name="relied_on_once"),)

    def __str__(self) -> str:
        return f"{self.answer_id} by {self.act_id}"


class Work(models.Model):
    """Background work: leased by a worker, done at least once, one waiting row a key."""

    kind = models.CharField(max_length=40)
    key = models.CharField(max_length=120)
    args = models.JSONField(default=dict)
    state = models.CharField(
        max_length=10,
        choices=[(s, s) for s in ("waiting", "leased", "done", "failed", "cancelled")],
        default="waiting",
    )
    leased_until = models.DateTimeField(null=True)
    tries = models.PositiveIntegerField(default=0)
    progress = models.CharField(max_length=200, blank=True)
    cancel = models.BooleanField(default=False)
    error = models.TextField(blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["kind", "key"], condition=models.Q(state="waiting"), name="one_waiting_work_a_key"
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"

    @property
    def fault(self) -> str:
        """What a person is told of work that failed; `error` may be a fault's own text, for whoever mends the program."""
        kind, _, words = self.error.partition(": ")
        if kind in ("Refused", "NotAllowed"):  # the record's own sentence
            return words
        return f"The program came to a fault of its own in {self.tries} tries. Tell whoever keeps the program."


class Photo(models.Model):
    """A photograph, named by the SHA-256 of the bytes as received; the file is on disk before this row is."""

    sha256 = models.CharField(max_length=64, primary_key=True)
    bytes = models.PositiveBigIntegerField()
    type = models.CharField(max_length=40)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    orientation = models.PositiveSmallIntegerField(default=1)
    taken_at = models.DateTimeField(null=True)
    original_name = models.CharField(max_length=200, blank=True)
    behind = models.ForeignKey(
        "self", models.PROTECT, null=True, related_name="in_front_of", help_text="the larger of the same picture"
    )

    def __str__(self) -> str:
        return self.original_name or self.sha256[:12]


class PhotoUse(models.Model):
    """What a photograph shows."""

    photo = models.ForeignKey(Photo, models.PROTECT, related_name="uses")
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="photo_uses")
    place = models.ForeignKey(Place, models.PROTECT, null=True, related_name="photo_uses")
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="photo_uses")
    zone = models.ForeignKey(Zone, models.PROTECT, null=True, related_name="photo_uses")
    what = models.CharField(max_length=300, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(piece__isnull=False)
                | models.Q(place__isnull=False)
                | models.Q(finding__isnull=False)
                | models.Q(zone__isnull=False),
                name="photo_shows_something",
            ),
        )

    @property
    def ring(self) -> "FindingRing | None":
        """The ring that was drawn on it last; fetch the rings with the pictures."""
        return next(reversed(list(self.rings.all())), None)

    def __str__(self) -> str:
        return self.what
