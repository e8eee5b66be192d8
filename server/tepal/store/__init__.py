"""The only ORM code: models, queries, migrations; implements the ports of sync and photos.

May know: SQLAlchemy, sync, photos, forms, domain. May not: web; rows never leave this room.
Start reading: models.py, then journal.py.
"""
