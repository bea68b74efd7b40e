"""Progress of work aside as server-sent events, for as long as it goes on and somebody looks."""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING

from starlette.responses import StreamingResponse

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from fastapi import Request

    from kilnpack.workflow.aside import Aside, Told

LOOK_EVERY_S = 0.3


def told_values(told: Told) -> dict[str, object]:
    """Return what a page shows of work aside."""
    progress = told.progress
    return {
        "state": told.state.value,
        "goes_on": told.goes_on,
        "step": progress.step if progress is not None else "beginning",
        "share": round(progress.share, 3) if progress is not None else 0.0,
        "seconds": round(progress.elapsed_s) if progress is not None else 0,
        "best": progress.said if progress is not None else "",
    }


def told_stream(request: Request, aside: Aside | None) -> StreamingResponse:
    """Return a stream of events: one whenever something changed, the last one once the work is over."""

    async def events() -> AsyncIterator[str]:
        last = ""
        while aside is not None:
            told = aside.told
            text = json.dumps(told_values(told))
            if text != last:
                last = text
                yield f"data: {text}\n\n"
            if not told.goes_on or await request.is_disconnected():
                return
            await asyncio.sleep(LOOK_EVERY_S)
        yield 'data: {"state": "none", "goes_on": false}\n\n'

    return StreamingResponse(events(), media_type="text/event-stream", headers={"x-accel-buffering": "no"})
