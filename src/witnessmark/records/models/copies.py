"""Copies of what happened since a day, for the owner and for the public: kept as they were made, with the link to each."""

from django.db import models
from django.db.models import F, Q

from witnessmark.records.models.aircraft import Aircraft
from witnessmark.records.models.ledger import Act


class SentCopy(models.Model):
    """One copy as it was made. Of its link only the hash is kept; what was sent is what is seen."""

    aircraft = models.ForeignKey(Aircraft, models.PROTECT, related_name="copies")
    for_whom = models.CharField(max_length=10, choices=[("owner", "owner"), ("public", "public")])
    since = models.DateField()
    until = models.DateField()
    content = models.JSONField()
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    act = models.OneToOneField(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-id",)
        constraints = (
            models.CheckConstraint(condition=Q(until__gte=F("since")), name="copy_days_in_order"),
            models.CheckConstraint(condition=Q(expires_at__gt=F("made_at")), name="copy_ends_after_it_begins"),
            models.CheckConstraint(condition=Q(for_whom__in=("owner", "public")), name="copy_for_owner_or_public"),
        )

    def __str__(self) -> str:
        return f"copy {self.pk} for the {self.for_whom}"


class CopyEnded(models.Model):
    """A copy's link was ended before it ran out."""

    copy = models.OneToOneField(SentCopy, models.PROTECT, primary_key=True, related_name="ended")
    act = models.OneToOneField(Act, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"copy {self.copy_id} ended"


class CopyOpened(models.Model):
    """How often strangers opened a copy's page: a count, and no word of who."""

    copy = models.OneToOneField(SentCopy, models.PROTECT, primary_key=True, related_name="opened")
    count = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"opened {self.count} times"
