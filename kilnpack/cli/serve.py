"""`kilnpack serve FOLDER` and `kilnpack person FOLDER NAME`."""

from __future__ import annotations

from typing import Annotated

import typer

from kilnpack.cli.options import Folder

Records = Annotated[str | None, typer.Option(help="Records elsewhere than in the folder: postgresql://... or a file.")]


def serve(
    folder: Folder,
    *,
    records: Records = None,
    host: Annotated[str, typer.Option(help="Address to listen at; this machine alone unless told.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to listen at.")] = 8642,
    https: Annotated[bool, typer.Option("--https", help="A proxy in front speaks https.")] = False,
) -> None:
    """Serve the pages for loader, planner and owner; Ctrl-C ends it."""
    from kilnpack.records.address import records_url
    from kilnpack.records.people import people
    from kilnpack.web.serving import HERE, open_place, with_works
    from kilnpack.web.serving import serve as serve_pages
    from kilnpack.workflow.taking_in import finish_before_reading
    from kilnpack.works_folder import read_works

    finish_before_reading(folder, records_url(folder, records))
    read_works(folder)
    place = open_place(folder, records, secure=https)
    with_works(place)
    with place.records.reading() as session:
        if not people(session):
            print(f"Nobody may sign in yet: kilnpack person {folder} NAME --role owner")
    if host not in HERE and not https:
        print("Others on the network can reach these pages, and passwords travel unhidden: put an https proxy before.")
    print(f"http://{host}:{port}/  (Ctrl-C ends it)")
    serve_pages(place, host, port)


def person(
    folder: Folder,
    name: Annotated[str, typer.Argument(help="Who; capitals do not matter.")],
    *,
    role: Annotated[str, typer.Option(help="loader, planner or owner.")] = "owner",
    records: Records = None,
    password: Annotated[
        str, typer.Option(prompt=True, hide_input=True, confirmation_prompt=True, help="Asked for where left out.")
    ],
) -> None:
    """Let someone sign in to the pages, or give them a new role and password."""
    from kilnpack.errors import Finding, InputFaulty
    from kilnpack.records import people
    from kilnpack.records.states import Role
    from kilnpack.web.passwords import hashed
    from kilnpack.web.serving import open_place

    if role not in set(Role):
        wanted = ", ".join(Role)
        raise InputFaulty([Finding(file="command", row=None, field="role", found=role, wanted=wanted)])
    kept = hashed(password)
    place = open_place(folder, records)
    with place.records.writing("command line") as session:
        if people.person(session, name) is None:
            people.add_person(session, name, Role(role), kept)
        else:
            people.change_person(session, name, role=Role(role), password_hash=kept, active=True)
    print(f"{name} may sign in as {role}.")
