"""netcheck."""
