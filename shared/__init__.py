"""The vocabulary: models, units, clock, errors, site file, stores. Imports nothing of ours."""
