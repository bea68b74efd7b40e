"""kilnpack: what goes into which firing, when, and where each piece stands."""

__version__ = "0.1.0"
