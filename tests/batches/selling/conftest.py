"""The tests here read and change one worked example."""

from tests.batches.stage import cast, example, stage

__all__ = ["cast", "example", "stage"]
