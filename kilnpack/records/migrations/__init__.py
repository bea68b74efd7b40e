"""Migrations of the tables, oldest first; alembic runs them."""
