"""One request to the pages of a works, as a command of `forked`: everything before it is done ahead of time.

A command ``@pages WORKS {json}`` stands for a request that changes something, with what is sent in JSON: ``path``, and
``form``, ``json`` or ``files``; ``plan`` is a saved plan that stands as the result of planning anew.
"""

from __future__ import annotations

import base64
import json
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

WORD = "@pages"
OWNER = "Olga"


def prepared(words: Sequence[str]) -> Callable[[], int]:
    """Open the pages and sign in; returns what sends the request and gives 0 where it was done, its status where not.

    What the page says is printed without its tags.
    """
    from fastapi.testclient import TestClient

    from kilnpack.web.app import make_app
    from kilnpack.web.serving import open_place

    folder, asked = Path(words[1]), json.loads(words[2])
    place = open_place(folder)
    app = make_app(place)
    client = TestClient(app, follow_redirects=False, raise_server_exceptions=True)
    client.cookies.set("kilnpack", session_cookie(folder))
    if "plan" in asked:
        _with_plan(app, place, Path(asked["plan"]))
    client.get("/nowhere")  # what every page needs is read from here on
    files = [("files", (name, text.encode())) for name, text in asked.get("files", {}).items()]

    def send() -> int:
        headers = {"x-form-token": "token", "accept": "application/json" if "json" in asked else "text/html"}
        answer = client.post(
            asked["path"], data=asked.get("form"), json=asked.get("json"), files=files or None, headers=headers
        )
        print(answer.status_code, _words(answer.text), flush=True)  # noqa: T201 - what the page says
        return 0 if answer.status_code in (200, 303) else answer.status_code % 256

    return send


def session_cookie(works: Path) -> str:
    """Return the cookie of somebody who signed in to the pages of a works."""
    from itsdangerous import TimestampSigner

    from kilnpack.records.address import records_url
    from kilnpack.records.people import person
    from kilnpack.records.store import open_records

    records = open_records(records_url(works))
    with records.reading() as session:
        row = person(session, OWNER)
        assert row is not None
        said = {"person": row.name, "person_version": row.version, "form_token": "token"}
    records.close()
    key = (works / "records" / "sign-in.key").read_text().strip()
    return TimestampSigner(key).sign(base64.b64encode(json.dumps(said).encode())).decode()


def _with_plan(app: Any, place: Any, saved: Path) -> None:
    """Let a saved plan be what came of planning anew."""
    from kilnpack.model.plans import Plan
    from kilnpack.records.standing_plan import newest_plan
    from kilnpack.workflow.aside import AsideState, Told
    from kilnpack.workflow.standing import BegunFrom
    from kilnpack.works_folder import load_value

    with place.records.reading() as session:
        row = newest_plan(session)
        begun = BegunFrom(code=row.code if row else None, version=row.version if row else None)
    told = Told(state=AsideState.DONE, answer=load_value(saved, Plan))
    app.state.asides._kept["plan"] = SimpleNamespace(told=told, about=begun, end=lambda: None)


def _words(page: str) -> str:
    import re

    return " ".join(re.sub(r"<[^>]*>", " ", (page.partition("<main")[2] or page).partition("<footer")[0]).split())[:600]
