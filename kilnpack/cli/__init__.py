"""Arguments in, text out; no logic of its own."""
