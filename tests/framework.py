"""The sentences of the framework, which no page of ours shows."""

from __future__ import annotations

import re

SENTENCES = re.compile(
    r"This field (?:is required|cannot be)|Ensure (?:this|that)|Select a valid choice|"
    r"Enter (?:a (?:whole number|number|valid|list|complete)|an integer|only|the same)|"
    r"The submitted (?:file|data)|No file was submitted|Upload a valid|Null characters|is not a valid|"
    r"is not one of the available|value must be|already exists\.|ManagementForm|Please (?:submit|correct)"
)


def framework_words(text: str) -> list[str]:
    """What stands in a text in the words of the framework."""
    return sorted(set(SENTENCES.findall(text)))
