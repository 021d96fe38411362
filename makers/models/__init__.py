"""The house's records."""

from makers.models.base import AppendOnly, AppendOnlyQuerySet, Event, MakerQuerySet, MakerRecord, Record
from makers.models.fields import ExactDecimalField, GramsField, MoneyField, NumberField, PercentField
from makers.models.journal import Code, CodeCounter, Document, JournalEntry, JournalHead, JournalMention
from makers.models.people import (
    Contact,
    Maker,
    Market,
    Membership,
    OldSlug,
    ResponsibleParty,
    Role,
    Scale,
    ScaleCheck,
    User,
)

__all__ = [
    "AppendOnly",
    "AppendOnlyQuerySet",
    "Code",
    "CodeCounter",
    "Contact",
    "Document",
    "Event",
    "ExactDecimalField",
    "GramsField",
    "JournalEntry",
    "JournalHead",
    "JournalMention",
    "Maker",
    "MakerQuerySet",
    "MakerRecord",
    "Market",
    "Membership",
    "MoneyField",
    "NumberField",
    "OldSlug",
    "PercentField",
    "Record",
    "ResponsibleParty",
    "Role",
    "Scale",
    "ScaleCheck",
    "User",
]
