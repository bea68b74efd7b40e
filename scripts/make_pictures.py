#!/usr/bin/env python3
"""Write the pictures of the README from what the demonstration made.

python3 run.py demo && python3 run.py exec scripts/make_pictures.py out/
"""

from __future__ import annotations

import io
import re
import shutil
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from PIL import Image  # noqa: E402 - found only after the line above
from pypdf import PdfReader  # noqa: E402

from kilnpack.model.loads import Load  # noqa: E402
from kilnpack.sheets.facts import Tightest, loading_facts  # noqa: E402
from kilnpack.sheets.loading_pdf import loading_pdf, loading_pictures  # noqa: E402
from kilnpack.works_folder import load_value, read_works  # noqa: E402

WORKS = "porcelain_works"
TITLE = "Load G1 GLOST"
WIDE_DOTS = 1000
PAGE_WIDE_MM = 210.0
COLOURS = 128


def setting_page(out: Path) -> bytes:
    """Return the page of the setting that most tiers share, as PNG; settings that need no table of columns first."""
    works = read_works(ROOT / "demo_orders" / WORKS)
    load = load_value(out / WORKS / "load-G1-GLOST" / "load.json", Load)
    facts = loading_facts(works, load, title=TITLE, tightest=Tightest())
    chosen = max(facts.pages, key=lambda page: (len(page.table.columns) == 1, len(page.tiers)))
    texts = [page.extract_text() for page in PdfReader(io.BytesIO(loading_pdf(facts, made_at=works.now))).pages]
    number = next(k for k, text in enumerate(texts) if re.search(rf"Setting {chosen.name}\b", text))
    return loading_pictures(facts, made_at=works.now, dots_per_mm=WIDE_DOTS / PAGE_WIDE_MM)[number]


def main() -> int:
    """Write three pictures into docs/pictures/ and return the exit code."""
    out, place = Path(sys.argv[1]), ROOT / "docs" / "pictures"
    picture = Image.open(io.BytesIO(setting_page(out))).convert("RGB").quantize(COLOURS)
    picture.save(place / "loading_sheet.png", optimize=True)
    shutil.copyfile(out / WORKS / "plan" / "plan-kilns.png", place / "plan.png")
    (waterfall,) = (out / WORKS / "energy").glob("*-waterfall.png")
    shutil.copyfile(waterfall, place / "owner.png")
    return 0


if __name__ == "__main__":
    sys.exit(main())
