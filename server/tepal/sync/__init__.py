"""Entries, merge, journal hash chain, exchange: how nothing gets lost.

May know: tepal.domain. May not: any record kind, field meaning, ORM or web library; storage and
validation are handed in as ports. Start reading: entry.py, merge.py, effects.py, engine.py.
"""
