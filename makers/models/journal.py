"""Codes, the journal and documents."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from makers.models.base import AppendOnly, AppendOnlyQuerySet, MakerQuerySet, MakerRecord, Record


class CodeQuerySet(AppendOnlyQuerySet):
    """Words for asking about codes."""

    def called(self, maker: models.Model, text: str) -> Code | None:
        """The maker's code of this text, in capitals or not; None for none."""
        wanted = text.strip()
        return self.for_maker(maker).filter(text__iexact=wanted).first() if wanted else None


class Code(AppendOnly):
    """One human code of a maker: unique, never used again. What a scan or the search box resolves."""

    text = models.CharField(max_length=20)
    kind = models.CharField(max_length=20)
    subject = models.UUIDField()

    objects = CodeQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "text"], name="code_once", violation_error_message="That code is taken."
            )
        ]

    def __str__(self) -> str:
        return self.text


class CodeCounter(models.Model):
    """The last number given in a series of codes."""

    maker = models.ForeignKey("makers.Maker", on_delete=models.PROTECT, related_name="+")
    series = models.CharField(max_length=30)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["maker", "series"], name="codecounter_once")]

    def __str__(self) -> str:
        return f"{self.series}: {self.last}"


class JournalHead(models.Model):
    """The end of a maker's chain; locked first in every action."""

    maker = models.OneToOneField("makers.Maker", on_delete=models.PROTECT, related_name="journal_head")
    number = models.PositiveBigIntegerField(default=0)
    digest = models.CharField(max_length=64, blank=True)

    def __str__(self) -> str:
        return f"{self.number} {self.digest[:12]}"


class JournalEntry(AppendOnly):
    """Who did what, when and why; each entry carries the digest of the one before."""

    number = models.PositiveBigIntegerField()
    at = models.DateTimeField()
    clock = models.CharField(max_length=10, default="server")
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+", null=True)
    user_label = models.CharField(max_length=120)
    device = models.CharField(max_length=120, blank=True)
    action = models.CharField(max_length=60)
    subject = models.UUIDField(null=True)
    subject_kind = models.CharField(max_length=40, blank=True)
    subject_label = models.CharField(max_length=200, blank=True)
    change = models.JSONField(default=dict)
    why = models.TextField(blank=True)
    text = models.TextField(help_text="The canonical text over which the digest is made.")
    digest = models.CharField(max_length=64)

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["maker", "number"], name="journal_number_once"),
            models.CheckConstraint(name="journal_number_from_one", condition=Q(number__gte=1)),
        ]
        indexes = [models.Index(fields=["maker", "subject", "-number"], name="journal_subject")]

    def __str__(self) -> str:
        return f"{self.number} {self.action} {self.subject_label}"


class JournalMention(AppendOnly):
    """A further record that an entry speaks of, so that each record can show its own journal."""

    entry = models.ForeignKey(JournalEntry, on_delete=models.PROTECT, related_name="mentions")
    subject = models.UUIDField()

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["maker", "subject"], name="mention_subject")]


def document_path(instance: Document, filename: str) -> str:
    """Files are stored by maker and identity, never by the name they came with."""
    return f"{instance.maker.uuid}/{instance.uuid}"


class Document(AppendOnly):
    """A file kept with a record: certificate, safety data sheet, photo. Served only as a download."""

    class Kind(models.TextChoices):
        CERTIFICATE = "certificate", "Certificate of analysis"
        SAFETY = "safety", "Safety data sheet"
        SPECIFICATION = "specification", "Specification or composition"
        PHOTO = "photo", "Photo"
        OTHER = "other", "Other"

    kind = models.CharField(max_length=20, choices=Kind.choices, default=Kind.OTHER)
    file = models.FileField(upload_to=document_path)
    name = models.CharField(max_length=200)
    size = models.PositiveIntegerField()
    content_type = models.CharField(max_length=60)
    sha256 = models.CharField(max_length=64)
    about = models.UUIDField(null=True, blank=True, help_text="The record that this belongs to.")
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["maker", "about"], name="document_about")]

    def __str__(self) -> str:
        return self.name


__all__ = [
    "Code",
    "CodeCounter",
    "Document",
    "JournalEntry",
    "JournalHead",
    "JournalMention",
    "MakerQuerySet",
    "MakerRecord",
    "Record",
]
