"""kilnpack: firings, their order, and the place of every piece in the kiln."""

__version__ = "0.1.0"
