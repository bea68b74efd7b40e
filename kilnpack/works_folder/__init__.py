"""The only reader of a works folder, and the saved values."""

from kilnpack.works_folder.reader import read_works
from kilnpack.works_folder.saved import load_value, save_value
from kilnpack.works_folder.schema import schema
from kilnpack.works_folder.writer import write_works

__all__ = ["load_value", "read_works", "save_value", "schema", "write_works"]
