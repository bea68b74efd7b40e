"""The instances run: ratios of one run, never a record of the past."""
