"""The printed world's records."""

from labels.models.labels import AppliedLabel, FactConfirmation, Label, LabelIssue, PrintRun, SheetLayout

__all__ = ["AppliedLabel", "FactConfirmation", "Label", "LabelIssue", "PrintRun", "SheetLayout"]
