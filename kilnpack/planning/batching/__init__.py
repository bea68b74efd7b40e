"""Batches on kilns side by side: jobs of one family share a firing, firings follow one another in windows of time."""
