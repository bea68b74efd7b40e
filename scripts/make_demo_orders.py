"""Write the tables of the works under `demo_orders/`; the same input gives the same files.

    python3 scripts/make_demo_orders.py

The TOML files there are written by hand; orders and lots are drawn from a fixed start of the random numbers.
"""

from __future__ import annotations

from pathlib import Path

from demo_data import porcelain_works, round_kiln_studio

ORDERS = Path(__file__).resolve().parents[1] / "demo_orders"

if __name__ == "__main__":
    porcelain_works.write(ORDERS / "porcelain_works")
    round_kiln_studio.write(ORDERS / "round_kiln_studio")
