"""The words for asking about the physical world, one module per subject."""
