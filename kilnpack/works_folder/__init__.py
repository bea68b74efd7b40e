"""The only reader of a works folder, and the saved values."""

from kilnpack.works_folder.reader import read_works

__all__ = ["read_works"]
