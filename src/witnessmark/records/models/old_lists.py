"""Lists made before: each file as it came, and what their headings were said to mean."""

from django.db import models

from witnessmark.records.models.ledger import Act


class ListIn(models.Model):
    """A list as it came, kept whole; what it was read as, and how its rows came out once it was taken."""

    act = models.OneToOneField(Act, models.PROTECT, primary_key=True, related_name="list_in")
    sha256 = models.CharField(max_length=64)
    bytes = models.PositiveBigIntegerField()
    name = models.CharField(max_length=200)
    sheet = models.CharField(max_length=200, blank=True)
    form = models.CharField(max_length=40, blank=True, help_text="what it lists, such as parts or bags")
    means = models.JSONField(default=dict, help_text="heading: column")
    always = models.JSONField(default=dict, help_text="column: what it is in every row")
    report = models.JSONField(null=True, help_text="counts, and each row that is worth a word")
    taken_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("act_id",)

    def __str__(self) -> str:
        return self.name


class HeadingMeans(models.Model):
    """What a heading was said to mean in lists of a kind; empty: it is left out. The last word counts."""

    form = models.CharField(max_length=40)
    heading = models.CharField(max_length=200, help_text="case, accents and signs folded")
    column = models.CharField(max_length=60, blank=True)
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("form", "heading")
        constraints = (models.UniqueConstraint(fields=["form", "heading"], name="heading_means_once"),)

    def __str__(self) -> str:
        return f"{self.heading}: {self.column or 'left out'}"
