"""Recorded frames."""
