"""What people keep for next time: searches, and how a spreadsheet's columns were read."""

from django.conf import settings
from django.db import models


class SavedView(models.Model):
    """A search of the Yarn page under a name; `query` is the query string of its address."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="views")
    name = models.CharField(max_length=60)
    query = models.CharField(max_length=500)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "name"],
                name="stash_savedview_name_once_a_person",
                violation_error_message="You have a view of this name already.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class ColumnReading(models.Model):
    """How the columns of a spreadsheet were read last time; `headings` recognises the spreadsheet."""

    headings = models.CharField(max_length=64, unique=True)
    reading = models.JSONField()
    used_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.headings


class PhoneCode(models.Model):
    """A code by which a phone signs in once, for five minutes. Only its hash is kept."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="phone_codes")
    code_hash = models.CharField(max_length=64, unique=True)
    next_address = models.CharField(max_length=200, blank=True)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"for {self.person_id}"


class CalendarAddress(models.Model):
    """A private address at which a person's own calendar reads the studio's days. Only its hash is kept."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_addresses"
    )
    name = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name
