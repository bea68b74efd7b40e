"""Frozen data in the trade's words."""
