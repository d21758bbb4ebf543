"""Decisions come in; delivered messages go out."""
