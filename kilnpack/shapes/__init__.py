"""Profiles, outlines and the distances bodies must keep."""
