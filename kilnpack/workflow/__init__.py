"""The stages put together, for the command line, the tests and the docs."""
