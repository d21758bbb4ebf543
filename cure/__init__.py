"""Stored readings come in; decisions with their findings go out."""
