"""Findings on pieces, places and zones, the decisions they got, and routes of steps."""

from django.db import models
from django.db.models import Q

from witnessmark.records.models.aircraft import Aircraft, Zone
from witnessmark.records.models.ledger import Act, Piece, Place
from witnessmark.records.models.people import Person


class Finding(models.Model):
    """Something wrong, seen and perhaps measured, on one piece, place, hole or zone."""

    aircraft = models.ForeignKey(Aircraft, models.PROTECT)
    number = models.CharField(max_length=40)
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="findings")
    place = models.ForeignKey(Place, models.PROTECT, null=True, related_name="findings")
    hole = models.ForeignKey("Hole", models.PROTECT, null=True, related_name="findings")
    zone = models.ForeignKey(Zone, models.PROTECT, null=True, related_name="findings")
    kind = models.CharField(
        max_length=20, blank=True, help_text="a kind of calc/surface/finding_kinds; empty: not said"
    )
    opened = models.BooleanField(null=True, help_text="found because something was opened; empty: not said")
    what = models.TextField()
    seen_on = models.DateField(null=True)
    seen_by = models.CharField(max_length=120, blank=True)
    measured = models.CharField(max_length=200, blank=True)
    limit_words = models.CharField(max_length=200, blank=True)
    state = models.CharField(
        max_length=10,
        choices=[("open", "open"), ("decided", "decided"), ("closed", "closed")],
        default="open",
    )
    note = models.TextField(blank=True)
    words = models.TextField(blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=["aircraft", "number"], name="finding_once"),
            models.CheckConstraint(
                condition=Q(piece__isnull=False) | Q(place__isnull=False) | Q(zone__isnull=False),
                name="finding_is_on_something",
            ),
        )

    def __str__(self) -> str:
        return self.number


class DecisionKind(models.TextChoices):
    """The five decisions of the trade."""

    REUSE = "reuse"
    REPAIR = "repair"
    REMAKE = "remake"
    SUBSTITUTE = "substitute"
    SCRAP = "scrap"


class Decision(models.Model):
    """The newest decision of a piece counts; a reversal is a new one."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="decisions")
    kind = models.CharField(max_length=12, choices=DecisionKind.choices)
    reason = models.TextField(blank=True)
    by = models.ForeignKey(Person, models.PROTECT)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.kind


class RouteTemplate(models.Model):
    """A named order of steps, for parts of one kind."""

    name = models.CharField(max_length=80, unique=True)

    def __str__(self) -> str:
        return self.name


class StepFields(models.Model):
    """What a step says, in a template and on a piece alike."""

    number = models.PositiveIntegerField()
    name = models.CharField(max_length=120)
    who = models.CharField(max_length=80, help_text="a craft, or a vendor's code")
    hours_least = models.FloatField(default=0)
    hours_likely = models.FloatField(default=0)
    hours_most = models.FloatField(default=0)
    bench = models.CharField(max_length=80, blank=True)
    cures_hours = models.FloatField(default=0)
    next_within_hours = models.FloatField(null=True, help_text="the next step begins at most so long after this one")
    caution = models.CharField(max_length=300, blank=True)
    tag_medium = models.CharField(max_length=60, blank=True)
    needs = models.JSONField(default=list, help_text="tags, orders, or words with their place: what must be there")

    class Meta:
        abstract = True
        ordering = ("number",)

    def __str__(self) -> str:
        return self.name


class TemplateStep(StepFields):
    """A step of a template."""

    template = models.ForeignKey(RouteTemplate, models.CASCADE, related_name="steps")

    class Meta(StepFields.Meta):
        constraints = (models.UniqueConstraint(fields=["template", "number"], name="template_step_once"),)


class Step(StepFields):
    """A step of one piece's route; done when an act says so."""

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="steps")
    template = models.CharField(max_length=80, blank=True)
    done_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True, help_text="said afterwards, where a list alone says that it is done")

    class Meta(StepFields.Meta):
        constraints = (models.UniqueConstraint(fields=["piece", "number"], name="step_once"),)
