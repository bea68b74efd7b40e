"""How quick the pages are for 20 people at once while a plan is made: p50 and p95 of every page.

python3 run.py bench pages [--works demo_orders/porcelain_works] [--users 20] [--seconds 60] [--plan PLAN.json]

The pages are served as `kilnpack serve` does, in a process of their own, on loopback. Every user looks at a page of
their role, waits some seconds, and looks at the next. Exit code 1 if the p95 over all views is out of its bar.
"""

from __future__ import annotations

import argparse
import http.client
import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from kilnpack.model.plans import Plan
from kilnpack.records.firings import firing_rows, keep_plan
from kilnpack.records.people import add_person
from kilnpack.records.states import RecordedState, Role
from kilnpack.search.budget import Budget
from kilnpack.web.passwords import hashed
from kilnpack.web.serving import open_place, with_works
from kilnpack.workflow.planning import plan_works
from kilnpack.works_folder import load_value

if TYPE_CHECKING:
    from collections.abc import Sequence

BAR_MS = 300.0
PASSWORD = "only for this measurement"
WAIT_S = (0.5, 3.5)
"""Between two views of one user."""
PLAN_S = 30.0
"""For the plan that is there before, where none is given."""
LOADS = 3
"""Loads that loaders look at: the next ones."""
SHARES = {Role.LOADER: 0.5, Role.PLANNER: 0.3, Role.OWNER: 0.2}
OF_ROLE = {
    Role.LOADER: ("/loader", "/loader/{code}", "/loader/{code}/state", "/loader/{code}", "/inspection", "/readings"),
    Role.PLANNER: ("/planner", "/planner/backlog", "/planner/ask", "/planner/anew", "/planner/firing/{in_plan}"),
    Role.OWNER: ("/owner", "/owner?order=share", "/owner/chart/cost.svg", "/people", "/planner"),
}


@dataclass
class Views:
    """Milliseconds of every view by page, and views that were refused."""

    taken_ms: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    refused: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def note(self, page: str, ms: float, status: int) -> None:
        """Take note of one view."""
        with self.lock:
            self.taken_ms[page].append(ms)
            if status != http.client.OK:
                self.refused.append(f"{page}: {status}")


class User:
    """A browser without a screen: keeps its cookie and its connection."""

    def __init__(self, port: int, name: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        self.cookie = ""
        form = {"name": name, "password": PASSWORD, "form_token": self.token("/sign-in")}
        assert self.send("/sign-in", form) == http.client.SEE_OTHER, "the sign-in was refused"

    def ask(self, method: str, path: str, body: str | None = None) -> tuple[int, bytes]:
        """Send a request and return status and body."""
        headers = {"cookie": self.cookie, "content-type": "application/x-www-form-urlencoded"}
        try:
            self.connection.request(method, path, body=body, headers=headers)
            answer = self.connection.getresponse()
        except http.client.RemoteDisconnected:  # kept open too long: the server lets go of it, browsers come again
            self.connection.close()
            self.connection.request(method, path, body=body, headers=headers)
            answer = self.connection.getresponse()
        text = answer.read()
        if (given := answer.getheader("set-cookie")) is not None:
            self.cookie = given.split(";")[0]
        return answer.status, text

    def token(self, path: str) -> str:
        """Return the token of a page's forms."""
        found = re.search(rb'name="form-token" content="([^"]+)"', self.ask("GET", path)[1])
        assert found
        return found.group(1).decode()

    def send(self, path: str, form: dict[str, str]) -> int:
        """Send a form and return the status."""
        return self.ask("POST", path, urlencode(form))[0]


def made_place(works: Path, folder: Path, plan_file: Path | None, users: int) -> list[tuple[str, str]]:
    """Make a works with people and a plan; return the first loads as (code, code in the plan)."""
    shutil.copytree(works, folder)
    place = open_place(folder)
    with_works(place)
    plan = (
        load_value(plan_file, Plan) if plan_file else plan_works(folder, folder / "out", budget=Budget(seconds=30)).plan
    )
    secret = hashed(PASSWORD)
    with place.records.writing("set-up") as session:
        for number, role in enumerate(roles(users)):
            add_person(session, f"{role.value}-{number}", role, secret)
        keep_plan(session, plan)
    with place.records.reading() as session:
        rows = sorted(firing_rows(session, states=[RecordedState.PLANNED]), key=lambda row: str(row.plan_load_start))
        loads = [(row.code, row.in_plan or "") for row in rows[:LOADS]]
    place.records.close()
    return loads


def roles(users: int) -> list[Role]:
    """Return the role of every user."""
    found = [role for role, share in SHARES.items() for _ in range(round(share * users))]
    return (found + [Role.LOADER] * users)[:users]


def look(user: User, role: Role, loads: Sequence[tuple[str, str]], until: float, seed: int, views: Views) -> None:
    """Look at pages until the time is over."""
    chance = random.Random(seed)
    time.sleep(chance.uniform(0.0, WAIT_S[1]))  # people do not begin all at one moment
    while time.monotonic() < until:
        page, (code, in_plan) = chance.choice(OF_ROLE[role]), chance.choice(loads)
        begun = time.perf_counter()
        status, _ = user.ask("GET", page.format(code=code, in_plan=in_plan))
        views.note(page, 1000.0 * (time.perf_counter() - begun), status)
        time.sleep(chance.uniform(*WAIT_S))


def free_port() -> int:
    """Return a port that nobody listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def wait_for(port: int, process: subprocess.Popen[bytes]) -> None:
    """Wait until the pages answer."""
    while True:
        assert process.poll() is None, "the server did not start"
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1.0).close()
        except OSError:
            time.sleep(0.1)
        else:
            return


def at(taken: list[float], share: float) -> float:
    """Return the least value that so large a share of all does not exceed."""
    ordered = sorted(taken)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def measured(port: int, loads: Sequence[tuple[str, str]], users: int, seconds: float) -> Views:
    """Sign everybody in, open the figures, begin a plan, then let all look at pages at once."""
    people = [(role, User(port, f"{role.value}-{number}")) for number, role in enumerate(roles(users))]
    owner = next(user for role, user in people if role is Role.OWNER)
    while b'id="progress"' in owner.ask("GET", "/owner")[1]:
        time.sleep(1.0)
    for role, user in dict(people).items():
        for page in OF_ROLE[role]:
            for code, in_plan in loads:
                user.ask("GET", page.format(code=code, in_plan=in_plan))
    form = {"seconds": str(seconds + 30), "keep_locked": "yes", "form_token": owner.token("/planner/anew")}
    assert owner.send("/planner/anew", form) == http.client.SEE_OTHER, "no plan was begun"
    views, until = Views(), time.monotonic() + seconds
    threads = [
        threading.Thread(target=look, args=(user, role, loads, until, number, views))
        for number, (role, user) in enumerate(people)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert b'id="progress"' in owner.ask("GET", "/planner/anew")[1], "the plan ended before the views did"
    owner.send("/planner/anew/throw-away", {"form_token": owner.token("/planner/anew")})
    return views


def main(arguments: Sequence[str] | None = None) -> int:
    """Serve, look, print; return the exit code."""
    parser = argparse.ArgumentParser(prog="bench pages", description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--works", type=Path, default=Path("demo_orders/porcelain_works"))
    parser.add_argument("--users", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--plan", type=Path, default=None, help="a plan of these works (plan.json); else one is made")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as aside:
        folder = Path(aside) / options.works.name
        loads = made_place(options.works, folder, options.plan, options.users)
        port = free_port()
        command = [str(Path(sys.executable).with_name("kilnpack")), "serve", str(folder), "--port", str(port)]
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        try:
            wait_for(port, process)
            views = measured(port, loads, options.users, options.seconds)
        finally:
            process.terminate()
            process.wait(timeout=60)
    return told(views, options.users)


def told(views: Views, users: int) -> int:
    """Print the table; return the exit code."""
    say = sys.stdout.write
    say(f"{users} users, {WAIT_S[0]:g} to {WAIT_S[1]:g} s between two views of one, while a plan is made\n\n")
    say(f"{'page':34} {'views':>6} {'p50 ms':>8} {'p95 ms':>8} {'most ms':>8}\n")
    everything = [ms for taken in views.taken_ms.values() for ms in taken]
    for page, taken in [*sorted(views.taken_ms.items()), ("all", everything)]:
        say(f"{page:34} {len(taken):6d} {at(taken, 0.5):8.0f} {at(taken, 0.95):8.0f} {max(taken):8.0f}\n")
    for one in sorted(set(views.refused)):
        say(f"refused: {one}\n")
    met = at(everything, 0.95) <= BAR_MS and not views.refused
    say(f"\np95 of all views {at(everything, 0.95):.0f} ms, bar {BAR_MS:.0f} ms: {'met' if met else 'not met'}\n")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
