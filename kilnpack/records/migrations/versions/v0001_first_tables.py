"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

MOMENT = sa.String(40)
"""A moment as ISO 8601 text. A migration names its types itself: the tables of today may change, this step may not."""


def upgrade() -> None:
    """Make the tables."""
    _works()
    _furniture()
    _firings()
    _readings()
    _people()


def _works() -> None:
    """The works, its backlog and what happened to its lots."""
    op.create_table(
        "orders",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("taken_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_orders")),
        sa.UniqueConstraint("code", name=op.f("uq_orders_code")),
    )
    op.create_table(
        "works",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("schema_version", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("imported_at", MOMENT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_works")),
    )
    op.create_table(
        "order_lines",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=True),
        sa.Column("order_code", sa.String(), nullable=False),
        sa.Column("customer", sa.String(), nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("quantity_pieces", sa.Integer(), nullable=False),
        sa.Column("delivered_pieces", sa.Integer(), nullable=False),
        sa.Column("part_delivery", sa.Boolean(), nullable=False),
        sa.Column("due", sa.Date(), nullable=False),
        sa.Column("not_before", sa.Date(), nullable=True),
        sa.Column("priority_factor", sa.Double(), nullable=False),
        sa.Column("schema_version", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["order_code"], ["orders.code"], name=op.f("fk_order_lines_order_code")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_lines")),
        sa.UniqueConstraint("code", name=op.f("uq_order_lines_code")),
    )
    op.create_index(op.f("ix_order_lines_due"), "order_lines", ["due"])
    op.create_index(op.f("ix_order_lines_item"), "order_lines", ["item"])
    op.create_index(op.f("ix_order_lines_order_code"), "order_lines", ["order_code"])
    op.create_index(op.f("ix_order_lines_position"), "order_lines", ["position"])
    op.create_table(
        "lots",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=True),
        sa.Column("product", sa.String(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("order_line", sa.String(), nullable=True),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("ready_at", MOMENT, nullable=True),
        sa.Column("glazed", sa.Boolean(), nullable=False),
        sa.Column("came_from", sa.String(), nullable=True),
        sa.Column("schema_version", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["order_line"], ["order_lines.code"], name=op.f("fk_lots_order_line")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lots")),
        sa.UniqueConstraint("code", name=op.f("uq_lots_code")),
    )
    op.create_index(op.f("ix_lots_order_line"), "lots", ["order_line"])
    op.create_index(op.f("ix_lots_position"), "lots", ["position"])
    op.create_index(op.f("ix_lots_product"), "lots", ["product"])
    op.create_table(
        "lot_history",
        sa.Column("lot", sa.String(), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("firing", sa.String(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["lot"], ["lots.code"], name=op.f("fk_lot_history_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot_history")),
    )
    op.create_index(op.f("ix_lot_history_lot"), "lot_history", ["lot"])


def _furniture() -> None:
    """Furniture with its counts."""
    op.create_table(
        "condemned",
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("shelf_lot", sa.Integer(), nullable=True),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("cause", sa.String(), nullable=False),
        sa.Column("firing", sa.String(), nullable=True),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_condemned")),
    )
    op.create_index(op.f("ix_condemned_code"), "condemned", ["code"])
    op.create_table(
        "furniture",
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=True),
        sa.Column("schema_version", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("count_pieces", sa.Integer(), nullable=True),
        sa.Column("piece_firings", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_furniture")),
        sa.UniqueConstraint("kind", "code", name=op.f("uq_furniture_kind_code")),
    )
    op.create_table(
        "shelf_lots",
        sa.Column("furniture_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("count_pieces", sa.Integer(), nullable=False),
        sa.Column("condemned_pieces", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["furniture_id"], ["furniture.id"], name=op.f("fk_shelf_lots_furniture_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf_lots")),
        sa.UniqueConstraint("furniture_id", "number", name=op.f("uq_shelf_lots_furniture_id_number")),
    )


def _firings() -> None:
    """Plans, firings, loads, ticks."""
    op.create_table(
        "plans",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("made", MOMENT, nullable=False),
        sa.Column("kept_at", MOMENT, nullable=False),
        sa.Column("policy", sa.String(), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=False),
        sa.Column("firing_count", sa.Integer(), nullable=False),
        sa.Column("open_lines", sa.Integer(), nullable=False),
        sa.Column("weighted_late_days", sa.Double(), nullable=False),
        sa.Column("schema_version", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plans")),
        sa.UniqueConstraint("code", name=op.f("uq_plans_code")),
    )
    op.create_table(
        "firings",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("plan", sa.String(), nullable=True),
        sa.Column("in_plan", sa.String(), nullable=True),
        sa.Column("kiln", sa.String(), nullable=False),
        sa.Column("car", sa.String(), nullable=True),
        sa.Column("programme", sa.String(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("locked", sa.Boolean(), nullable=False),
        sa.Column("lots", sa.JSON(), nullable=False),
        sa.Column("becomes", sa.JSON(), nullable=False),
        sa.Column("plan_load_start", MOMENT, nullable=True),
        sa.Column("plan_fire_start", MOMENT, nullable=True),
        sa.Column("plan_fire_end", MOMENT, nullable=True),
        sa.Column("plan_unload_end", MOMENT, nullable=True),
        sa.Column("loading_at", MOMENT, nullable=True),
        sa.Column("lit_at", MOMENT, nullable=True),
        sa.Column("fired_at", MOMENT, nullable=True),
        sa.Column("unloaded_at", MOMENT, nullable=True),
        sa.Column("inspected_at", MOMENT, nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["plan"], ["plans.code"], name=op.f("fk_firings_plan")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_firings")),
        sa.UniqueConstraint("code", name=op.f("uq_firings_code")),
    )
    op.create_index(op.f("ix_firings_kiln"), "firings", ["kiln"])
    op.create_index(op.f("ix_firings_plan"), "firings", ["plan"])
    op.create_index(op.f("ix_firings_programme"), "firings", ["programme"])
    op.create_index(op.f("ix_firings_stage"), "firings", ["stage"])
    op.create_index(op.f("ix_firings_state"), "firings", ["state"])
    op.create_table(
        "loads",
        sa.Column("firing", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("tiers", sa.Integer(), nullable=False),
        sa.Column("schema_version", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["firing"], ["firings.code"], name=op.f("fk_loads_firing")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loads")),
        sa.UniqueConstraint("firing", "kind", name=op.f("uq_loads_firing_kind")),
    )
    op.create_table(
        "ticks",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("firing", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("stack", sa.String(), nullable=False),
        sa.Column("tier", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=True),
        sa.Column("lot", sa.String(), nullable=True),
        sa.Column("other_lot", sa.String(), nullable=True),
        sa.Column("pieces", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("heard_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["firing"], ["firings.code"], name=op.f("fk_ticks_firing")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ticks")),
        sa.UniqueConstraint("mark", name=op.f("uq_ticks_mark")),
    )
    op.create_index(op.f("ix_ticks_firing"), "ticks", ["firing"])


def _readings() -> None:
    """What came out and what was measured."""
    op.create_table(
        "cone_readings",
        sa.Column("firing", sa.String(), nullable=False),
        sa.Column("kiln", sa.String(), nullable=False),
        sa.Column("programme", sa.String(), nullable=False),
        sa.Column("fired_on", sa.Date(), nullable=False),
        sa.Column("x_mm", sa.Double(), nullable=False),
        sa.Column("y_mm", sa.Double(), nullable=False),
        sa.Column("z_mm", sa.Double(), nullable=False),
        sa.Column("cone", sa.String(), nullable=True),
        sa.Column("state", sa.String(), nullable=True),
        sa.Column("series", sa.String(), nullable=False),
        sa.Column("read_degc", sa.Double(), nullable=True),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["firing"], ["firings.code"], name=op.f("fk_cone_readings_firing")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cone_readings")),
    )
    op.create_index(op.f("ix_cone_readings_firing"), "cone_readings", ["firing"])
    op.create_index(op.f("ix_cone_readings_kiln"), "cone_readings", ["kiln"])
    op.create_table(
        "coolings",
        sa.Column("firing", sa.String(), nullable=False),
        sa.Column("kiln", sa.String(), nullable=False),
        sa.Column("programme", sa.String(), nullable=False),
        sa.Column("fired_on", sa.Date(), nullable=False),
        sa.Column("ware_kg", sa.Double(), nullable=False),
        sa.Column("furniture_kg", sa.Double(), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["firing"], ["firings.code"], name=op.f("fk_coolings_firing")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_coolings")),
        sa.UniqueConstraint("firing", name=op.f("uq_coolings_firing")),
    )
    op.create_index(op.f("ix_coolings_kiln"), "coolings", ["kiln"])
    op.create_table(
        "meter_readings",
        sa.Column("firing", sa.String(), nullable=False),
        sa.Column("kiln", sa.String(), nullable=False),
        sa.Column("programme", sa.String(), nullable=False),
        sa.Column("fired_on", sa.Date(), nullable=False),
        sa.Column("ware_kg", sa.Double(), nullable=False),
        sa.Column("furniture_kg", sa.Double(), nullable=False),
        sa.Column("metered_kwh", sa.Double(), nullable=True),
        sa.Column("metered_m3", sa.Double(), nullable=True),
        sa.Column("gross_kwh_per_m3", sa.Double(), nullable=True),
        sa.Column("before", sa.String(), nullable=True),
        sa.Column("stood_h", sa.Double(), nullable=True),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["firing"], ["firings.code"], name=op.f("fk_meter_readings_firing")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_meter_readings")),
        sa.UniqueConstraint("firing", name=op.f("uq_meter_readings_firing")),
    )
    op.create_index(op.f("ix_meter_readings_kiln"), "meter_readings", ["kiln"])
    op.create_table(
        "cooling_points",
        sa.Column("cooling_id", sa.Integer(), nullable=False),
        sa.Column("after_h", sa.Double(), nullable=False),
        sa.Column("chamber_degc", sa.Double(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["cooling_id"], ["coolings.id"], name=op.f("fk_cooling_points_cooling_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cooling_points")),
    )
    op.create_index(op.f("ix_cooling_points_cooling_id"), "cooling_points", ["cooling_id"])
    op.create_table(
        "inspections",
        sa.Column("firing", sa.String(), nullable=False),
        sa.Column("lot", sa.String(), nullable=False),
        sa.Column("product", sa.String(), nullable=False),
        sa.Column("shape", sa.String(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("lot_kind", sa.String(), nullable=False),
        sa.Column("grade", sa.String(), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("cause", sa.String(), nullable=False),
        sa.Column("stack", sa.String(), nullable=True),
        sa.Column("tier", sa.Integer(), nullable=True),
        sa.Column("place", sa.Integer(), nullable=True),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["firing"], ["firings.code"], name=op.f("fk_inspections_firing")),
        sa.ForeignKeyConstraint(["lot"], ["lots.code"], name=op.f("fk_inspections_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspections")),
    )
    op.create_index(op.f("ix_inspections_firing"), "inspections", ["firing"])
    op.create_index(op.f("ix_inspections_lot"), "inspections", ["lot"])
    op.create_index(op.f("ix_inspections_product"), "inspections", ["product"])
    op.create_index(op.f("ix_inspections_shape"), "inspections", ["shape"])


def _people() -> None:
    """People and what they changed."""
    op.create_table(
        "events",
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("did", sa.String(), nullable=False),
        sa.Column("change", sa.JSON(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_events")),
    )
    op.create_index(op.f("ix_events_at"), "events", ["at"])
    op.create_index(op.f("ix_events_key"), "events", ["key"])
    op.create_index(op.f("ix_events_what"), "events", ["what"])
    op.create_table(
        "people",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_people")),
        sa.UniqueConstraint("name", name=op.f("uq_people_name")),
    )
