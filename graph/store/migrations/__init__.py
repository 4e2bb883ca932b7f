"""Schema migrations."""
