"""Breaks of orders, lots and the works file."""

from __future__ import annotations

from tests.works_folder.breaking import one

BACKLOG_BREAKS = (
    one(
        "delivered more than ordered",
        "orders.csv",
        "CUP-W;60;10",
        "CUP-W;60;61",
        ("orders.csv", 2, "delivered_pieces", "at most quantity_pieces 60"),
    ),
    one(
        "due before wanted",
        "orders.csv",
        "2026-12-18;2026-12-10",
        "2026-12-08;2026-12-10",
        ("orders.csv", 3, "due", "not_before 2026-12-10"),
    ),
    one(
        "singly though in sets only", "sets.csv", "CUP-W;2;yes", "CUP-W;2;no", ("orders.csv", 2, "item", "the set TEA")
    ),
    one(
        "lot of another product", "lots.csv", "12;1002/1", "12;1001/1", ("lots.csv", 3, "order_line", "asks for CUP-W")
    ),
    one(
        "unglazed after glost",
        "lots.csv",
        "L4;POT-W;finished;5;;;;",
        "L4;POT-W;finished;5;;;;no",
        ("lots.csv", 5, "glazed", "before its glost"),
    ),
    one(
        "firing of no route",
        "lots.csv",
        "PLATE-W;GLOST",
        "PLATE-W;COL8",
        ("lots.csv", 4, "next_firing", "1 BISC, 2 GLOST"),
    ),
    one("firing number beyond the route", "lots.csv", "CUP-B;3", "CUP-B;4", ("lots.csv", 3, "next_firing", "3 COL8")),
    one(
        "unknown time zone",
        "works.toml",
        "Europe/Vienna",
        "Europe/Vindobona",
        ("works.toml", None, "calendar.time_zone", "IANA"),
    ),
    one(
        "shift ends before it starts",
        "works.toml",
        "end = 15:30:00",
        "end = 05:30:00",
        *(("works.toml", None, "calendar.shifts", "after start 07:00"),) * 1,
    ),
    one(
        "shifts overlap",
        "works.toml",
        '["monday", "tuesday", "friday"]',
        '["monday", "monday"]',
        ("works.toml", None, "calendar.shifts", "do not overlap"),
    ),
    one(
        "no such weekday",
        "works.toml",
        '"monday", ',
        '"mondy", ',
        ("works.toml", None, "calendar.shifts[1].days[1]", "nearest: monday"),
    ),
    one(
        "nobody works",
        "works.toml",
        "crew_people = 2",
        "crew_people = 0",
        ("works.toml", None, "calendar.shifts[1].crew_people", "above 0"),
    ),
    one(
        "vapour excluded from itself",
        "works.toml",
        '["lead", "plain"]',
        '["lead", "lead"]',
        ("works.toml", None, "settings.excluded_vapours", "two different"),
    ),
    one(
        "goal named twice",
        "works.toml",
        "headroom_mm = 12.0",
        'headroom_mm = 12.0\ngoal_order = ["firings", "energy", "firings"]',
        ("works.toml", None, "settings.goal_order", "every goal once"),
    ),
    one(
        "no such goal",
        "works.toml",
        "headroom_mm = 12.0",
        'headroom_mm = 12.0\ngoal_order = ["firing"]',
        ("works.toml", None, "settings.goal_order[1]", "nearest: firings"),
    ),
    one(
        "unknown setting",
        "works.toml",
        "headroom_mm",
        "head_room_mm",
        ("works.toml", None, "settings.head_room_mm", "nearest: headroom_mm"),
    ),
    one(
        "negative setting",
        "works.toml",
        "headroom_mm = 12.0",
        "headroom_mm = -1.0",
        ("works.toml", None, "settings.headroom_mm", "at least 0"),
    ),
    one(
        "money among the settings",
        "works.toml",
        "headroom_mm = 12.0",
        "labour_money_per_h = 20.0",
        ("works.toml", None, "settings.labour_money_per_h", "under [money]"),
    ),
    one("no name", "works.toml", 'name = "Alder Yard"\n', "", ("works.toml", None, "name", "no default")),
    one(
        "now with an offset",
        "works.toml",
        "T07:00:00",
        "T07:00:00+01:00",
        ("works.toml", None, "now", "without an offset"),
    ),
)
