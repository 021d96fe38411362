"""The physical world's records, by subject: stock, making, selling, tracing."""

from batches.models.making import (
    Amendment,
    Batch,
    BatchLine,
    BatchNote,
    BatchStep,
    Check,
    Deviation,
    DeviationJudgement,
    Fill,
    Output,
    Reading,
    Release,
    RetainedSample,
    Weighing,
)
from batches.models.selling import Dispatch, Pack, PackBalance, PackEntry, Place, Recipient, Return
from batches.models.stock import Delivery, Hold, Lot, LotDecision, LotEntry, LotStatus, Retest
from batches.models.tracing import Complaint, ComplaintStep, Recall
from batches.models.trials import TrialNote

__all__ = [
    "Amendment",
    "Batch",
    "BatchLine",
    "BatchNote",
    "BatchStep",
    "Check",
    "Complaint",
    "ComplaintStep",
    "Delivery",
    "Deviation",
    "DeviationJudgement",
    "Dispatch",
    "Fill",
    "Hold",
    "Lot",
    "LotDecision",
    "LotEntry",
    "LotStatus",
    "Output",
    "Pack",
    "PackBalance",
    "PackEntry",
    "Place",
    "Reading",
    "Recall",
    "Recipient",
    "Release",
    "RetainedSample",
    "Retest",
    "Return",
    "TrialNote",
    "Weighing",
]
