"""Complaints and recalls."""

from __future__ import annotations

from django.db import models

from makers.models import Event, MakerQuerySet, MakerRecord


class Complaint(MakerRecord):
    """What somebody says went wrong: facts, in the person's words, and what is known of the batch."""

    class BatchKnown(models.TextChoices):
        KNOWN = "known", "Read from the pack"
        SUSPECTED = "suspected", "Supposed"
        UNKNOWN = "unknown", "Not known"

    class Kind(models.TextChoices):
        REACTION = "reaction", "Reaction of skin or health"
        QUALITY = "quality", "Too soft, smell, look, feel"
        PACKAGING = "packaging", "Container or label"
        OTHER = "other", "Other"

    class State(models.TextChoices):
        OPEN = "open", "Open"
        CLOSED = "closed", "Closed"

    code = models.CharField(max_length=20, editable=False)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    state = models.CharField(max_length=6, choices=State.choices, default=State.OPEN)
    received_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    channel = models.CharField(max_length=40, blank=True)
    market = models.CharField(max_length=2, blank=True)
    words = models.TextField("in the person's words")
    code_given = models.CharField("code on the pack, as given", max_length=60, blank=True)
    batch_known = models.CharField(max_length=10, choices=BatchKnown.choices)
    batch = models.ForeignKey(
        "batches.Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="complaints"
    )
    pack = models.ForeignKey(
        "batches.Pack", on_delete=models.PROTECT, null=True, blank=True, related_name="complaints"
    )
    product = models.ForeignKey(
        "formulas.Product", on_delete=models.PROTECT, null=True, blank=True, related_name="complaints"
    )
    contact = models.ForeignKey(
        "makers.Contact", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    facts = models.JSONField(default=dict, help_text="Fact by fact: yes, no or not asked.")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [models.UniqueConstraint(fields=["maker", "code"], name="complaint_code_once")]
        indexes = [models.Index(fields=["maker", "-id"], name="complaint_newest")]

    def __str__(self) -> str:
        return self.code


class ComplaintStep(Event):
    """What was found, answered, decided or reported on a complaint."""

    class Kind(models.TextChoices):
        FOUND = "found", "Found"
        ANSWERED = "answered", "Answered"
        REPORTED = "reported", "Reported to an authority"
        FACTS = "facts", "Facts learned"
        CLOSED = "closed", "Closed"
        REOPENED = "reopened", "Opened again"

    complaint = models.ForeignKey(Complaint, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    text = models.TextField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class Recall(MakerRecord):
    """A recall or its rehearsal: what set it off, what it covers, what was found, how long it took."""

    code = models.CharField(max_length=20, editable=False)
    rehearsal = models.BooleanField()
    lot = models.ForeignKey("batches.Lot", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    batch = models.ForeignKey(
        "batches.Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reason = models.TextField()
    scope = models.JSONField(default=dict, help_text="What the trace gave at the start.")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    found_units = models.PositiveIntegerField(null=True, blank=True)
    conclusion = models.TextField(blank=True)
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [models.UniqueConstraint(fields=["maker", "code"], name="recall_code_once")]

    def __str__(self) -> str:
        return self.code

    @property
    def minutes(self) -> int | None:
        """How long it took, in whole minutes; None while it runs."""
        return int((self.ended_at - self.started_at).total_seconds() // 60) if self.ended_at else None
