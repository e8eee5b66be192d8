"""Schemas of the record kinds and the form specs derived from them.

May know: marshmallow, tepal.domain. May not: database, web, sync, papers.
Start reading: kinds.py (the registry), then deriver.py.
"""
