"""A logger's message comes in; stored readings, or refusals with a reason, go out."""
