"""How fast it is, measured when somebody asks; never a test."""
