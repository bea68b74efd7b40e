"""The only reader of a works folder, and the saved values."""
