"""All tables in one place, so that whoever asks for the metadata has every one of them."""

from __future__ import annotations

from kilnpack.records import tables_firings, tables_people, tables_works
from kilnpack.records.base import Base

METADATA = Base.metadata
"""Every table of the records."""
MODULES = (tables_works, tables_firings, tables_people)
