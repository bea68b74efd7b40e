"""One shelf: which bodies stand on it, and where."""
