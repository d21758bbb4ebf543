"""The nouns that two packages share: readings, set-up, decisions, messages, acts. Values only."""
