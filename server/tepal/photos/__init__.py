"""Blob intake and storage: 64 kB pieces, hash checked, written once.

May know: fsspec, Pillow, tepal.domain. May not: database (pieces are rows behind a port), web.
Start reading: intake.py.
"""
