"""What a trial batch showed."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from batches.models.making import Batch
from makers.models import Event, MakerQuerySet, NumberField


class TrialNote(Event):
    """Look, feel and firmness of a trial on one day. A mistake is put right by a further note that names it."""

    class Firmness(models.TextChoices):
        RUNS = "runs", "Runs"
        SOFT = "soft", "Too soft"
        RIGHT = "right", "As it should be"
        HARD = "hard", "Too hard"
        BREAKS = "breaks", "Cracks or crumbles"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="trial_notes")
    seen_on = models.DateField()
    at_c = NumberField("where it stood, °C", null=True, blank=True)
    look = models.TextField(blank=True)
    feel = models.TextField(blank=True)
    firmness = models.CharField(max_length=8, choices=Firmness.choices, blank=True)
    text = models.TextField(blank=True)
    photo = models.ForeignKey(
        "makers.Document", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    why = models.TextField(blank=True, help_text="Why it corrects another.")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["seen_on", "id"]
        constraints = [
            models.CheckConstraint(
                name="trialnote_bounds", condition=Q(at_c__isnull=True) | Q(at_c__gte=-40, at_c__lte=100)
            ),
            models.CheckConstraint(
                name="trialnote_says_something",
                condition=~Q(look="", feel="", firmness="", text="", photo__isnull=True),
            ),
            models.UniqueConstraint(
                fields=["maker", "entry_key"], condition=Q(entry_key__isnull=False), name="trialnote_key_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}, seen on {self.seen_on}"
