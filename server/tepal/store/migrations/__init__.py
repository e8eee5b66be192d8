"""Alembic environment and the versions."""
