"""People, and the links they sign in by."""

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models


class Role(models.TextChoices):
    """What a person may do; words of the trade."""

    LEAD = "lead"
    MECHANIC = "mechanic"
    INSPECTOR = "inspector"
    OWNER = "owner"
    CRAFTSMAN = "craftsman"


class People(BaseUserManager["Person"]):
    """People are known by name; nobody has a password unless one is set on purpose."""

    def get_by_natural_key(self, username: str | None) -> "Person":
        return self.get(name=username)


class Person(AbstractBaseUser):
    """Somebody who acts: signs in, or is named in the record as an outside craftsman."""

    name = models.CharField(max_length=120, unique=True)
    role = models.CharField(max_length=20, choices=Role.choices)
    craft = models.CharField(max_length=80, blank=True)
    hours_per_day = models.DecimalField(max_digits=4, decimal_places=2, default=8)
    days = models.CharField(max_length=40, default="Mon-Fri")
    continuous = models.BooleanField(default=False, help_text="wants no gaps between his first job and his last")
    length_first = models.CharField(max_length=2, default="mm")
    note = models.TextField(blank=True)
    is_active = models.BooleanField(default=True)

    USERNAME_FIELD = "name"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects: ClassVar[People] = People()

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.name

    @property
    def may_write(self) -> bool:
        """Owners read; outside craftsmen see their own shipments by a signed link only."""
        return self.role in (Role.LEAD, Role.MECHANIC, Role.INSPECTOR)


class SignInLink(models.Model):
    """A link that signs one person in, once, until it runs out. Only its hash is kept."""

    person = models.ForeignKey(Person, models.CASCADE)
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"sign-in link for {self.person}"


class Bench(models.Model):
    """A bench, booth, fixture or oven that a job needs; capacity is how many jobs it holds at once."""

    name = models.CharField(max_length=80, unique=True)
    what = models.CharField(max_length=200, blank=True)
    capacity = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return self.name


class DayOff(models.Model):
    """A day nobody works (person empty) or one person is away."""

    day = models.DateField()
    person = models.ForeignKey(Person, models.CASCADE, null=True)
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=["day", "person"], name="day_off_once"),)

    def __str__(self) -> str:
        return f"{self.day}: {self.why}"
