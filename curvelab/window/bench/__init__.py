"""The bench before a batch: what is measured, whether it may be trusted, and what is decided."""
