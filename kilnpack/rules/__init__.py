"""The trade's constraints, stated once, and the independent checker."""
