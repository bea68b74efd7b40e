"""`kilnpack learnt FOLDER`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.cli.calibrate import print_kiln
from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, desk_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.records.learning import PlaceLoss, Yield
    from kilnpack.records.shares import Share
    from kilnpack.workflow.learnt import FurnitureWear


def learnt(folder: Folder, *, records: Address = None) -> None:
    """Print what the records teach, each with its sample size: yields, losses by place, kilns, wear of furniture."""
    from kilnpack.workflow.learnt import learn

    found = learn(desk_of(folder, records, None))
    print(f"{_many(found.firings, 'inspected firing')}.")
    _yields("product", (row for row in found.yields if not row.is_shape))
    _yields("shape", (row for row in found.yields if row.is_shape))
    _losses(found.losses)
    for kiln in found.kilns:
        print_kiln(kiln)
    _wear(found.wear)


def _yields(of: str, rows: Iterable[Yield]) -> None:
    for number, row in enumerate(rows):
        if not number:
            print(f"\nLosses by {of} and stage (share, its range in nine cases of ten, what the works reckons with):")
        shares = f"scrap {_share(row.scrap)}; seconds {_share(row.second)}; {row.refire_pieces} to refire"
        print(f"  {row.of:12} {row.stage.value:10} {shares}; {_many(row.scrap.firings, 'firing')}")


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _share(share: Share) -> str:
    learnt_range = f"{share.share:.1%} ({share.low_share:.1%} to {share.high_share:.1%})"
    return f"{learnt_range}, seen {share.hit} of {share.pieces}, reckoned {share.guessed_share:.1%}"


def _losses(rows: Iterable[PlaceLoss]) -> None:
    for number, row in enumerate(rows):
        if not number:
            print("\nLosses by place (stack and tier, from the bottom):")
        where = "place not noted" if row.stack is None else f"{row.stack} {row.tier}"
        lost = f"{row.second_pieces} seconds, {row.refire_pieces} to refire, {row.scrap_pieces} scrap"
        share = "" if row.lost_share is None else f" of {row.fired_pieces} ({row.lost_share:.0%})"
        causes = "; ".join(f"{cause} {pieces}" for cause, pieces in row.causes[:3])
        print(
            f"  {row.kiln:8} {row.stage.value:10} {where:16} {lost}{share} in {row.firings} firings  {causes}".rstrip()
        )


def _wear(rows: Iterable[FurnitureWear]) -> None:
    for number, row in enumerate(rows):
        if not number:
            print("\nFurniture (mean firings of a piece; posts since the records began):")
        print(f"  {row.kind:10} {row.code:12} {row.mean_firings:6.1f} firings, {row.pieces} in use, "
              f"{row.condemned_pieces} condemned")  # fmt: skip
