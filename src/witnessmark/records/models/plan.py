"""Jobs derived from the record, what people said of them, and hours booked."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from witnessmark.records.models.aircraft import Aircraft, Zone
from witnessmark.records.models.ledger import Act, Piece
from witnessmark.records.models.people import Person


class Job(models.Model):
    """A derived job; its key is source:id:step. A vanished job that has hours stays, withdrawn."""

    key = models.CharField(max_length=120)
    aircraft = models.ForeignKey(Aircraft, models.PROTECT)
    what = models.CharField(max_length=300)
    craft = models.CharField(max_length=80, blank=True)
    vendor_code = models.CharField(max_length=20, blank=True)
    hours_least = models.FloatField(default=0)
    hours_likely = models.FloatField(default=0)
    hours_most = models.FloatField(default=0)
    bench = models.CharField(max_length=80, blank=True)
    zone = models.ForeignKey(Zone, models.PROTECT, null=True)
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="jobs")
    priority = models.IntegerField(default=0)
    caution = models.CharField(max_length=300, blank=True)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        ordering = ("key",)
        constraints = (models.UniqueConstraint(fields=["aircraft", "key"], name="job_once"),)

    def __str__(self) -> str:
        return self.what


class JobLink(models.Model):
    """One job must end (and its cure run out) before another starts."""

    before = models.ForeignKey(Job, models.CASCADE, related_name="links_out")
    after = models.ForeignKey(Job, models.CASCADE, related_name="links_in")
    min_lag_hours = models.FloatField(default=0)
    max_lag_hours = models.FloatField(null=True)
    by_hand = models.BooleanField(default=False)

    class Meta:
        constraints = (models.UniqueConstraint(fields=["before", "after"], name="job_link_once"),)

    def __str__(self) -> str:
        return f"{self.before_id} before {self.after_id}"


class HandJob(models.Model):
    """A job nobody can derive: somebody wrote it down."""

    aircraft = models.ForeignKey(Aircraft, models.PROTECT)
    name = models.CharField(max_length=60)
    what = models.CharField(max_length=300)
    craft = models.CharField(max_length=80, blank=True)
    hours_least = models.FloatField()
    hours_likely = models.FloatField()
    hours_most = models.FloatField()
    bench = models.CharField(max_length=80, blank=True)
    zone = models.ForeignKey(Zone, models.PROTECT, null=True)
    after = models.JSONField(default=list, help_text="job keys or names of other hand-made jobs")
    not_before = models.DateField(null=True)
    needs = models.JSONField(default=list, help_text="tags, orders, or words with their place: what must be there")
    due = models.DateField(null=True)
    stands_for = models.JSONField(
        default=list, help_text="rows, tag:step, findings whose own jobs these words, this person and these hours are"
    )
    priority = models.IntegerField(default=0)
    person = models.ForeignKey(Person, models.PROTECT, null=True)
    note = models.TextField(blank=True)
    act = models.ForeignKey(
        Act, models.PROTECT, null=True, related_name="+", help_text="who wrote it by hand; none where it came by a list"
    )

    class Meta:
        constraints = (models.UniqueConstraint(fields=["aircraft", "name"], name="hand_job_once"),)

    def __str__(self) -> str:
        return self.what


class JobSaid(models.Model):
    """What people said of a job, of the act's aircraft: a new derivation never touches it. The newest counts."""

    key = models.CharField(max_length=120, db_index=True)
    status = models.CharField(
        max_length=10, choices=[(s, s) for s in ("open", "started", "stuck", "done")], default="open"
    )
    person = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    estimate_hours = models.FloatField(null=True)
    note = models.CharField(max_length=300, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.key}: {self.status}"


class JobFixed(models.Model):
    """Whom a job was given to and for which day, whatever the plan would say. The newest counts; neither is free again."""

    key = models.CharField(max_length=120, db_index=True)
    person = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    day = models.DateField(null=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.key}: {self.person_id or ''} {self.day or ''}"


class JobTied(models.Model):
    """One job has to wait for another because somebody said so. The newest word on the two counts."""

    before = models.CharField(max_length=120)
    after = models.CharField(max_length=120, db_index=True)
    stands = models.BooleanField(default=True)
    because = models.CharField(max_length=300, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = (models.CheckConstraint(condition=~Q(before=models.F("after")), name="job_not_tied_to_itself"),)

    def __str__(self) -> str:
        return f"{self.after} waits for {self.before}: {self.stands}"


class Standing(models.Manager["HoursBooked"]):
    """Hours that nobody took back."""

    def get_queryset(self) -> models.QuerySet["HoursBooked"]:
        return super().get_queryset().filter(taken_back=None)


class HoursBooked(models.Model):
    """Hours a person really worked on a job. What was booked by mistake is taken back, and both stay to be read."""

    key = models.CharField(max_length=120, db_index=True)
    person = models.ForeignKey(Person, models.PROTECT)
    day = models.DateField()
    hours = models.FloatField()
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    objects: ClassVar[Standing] = Standing()
    with_taken_back: ClassVar[models.Manager["HoursBooked"]] = models.Manager()

    class Meta:
        base_manager_name = "with_taken_back"
        constraints = (models.CheckConstraint(condition=Q(hours__gt=0), name="hours_above_0"),)

    def __str__(self) -> str:
        return f"{self.hours} h"


class HoursTakenBack(models.Model):
    """Hours that were booked by mistake count no more."""

    booked = models.OneToOneField(HoursBooked, models.PROTECT, related_name="taken_back")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"taken back: {self.booked_id}"
