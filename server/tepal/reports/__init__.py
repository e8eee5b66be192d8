"""Frozen view models -> PDF.

May know: ReportLab, tepal.domain. May not: database, session, clock, config; never computes a
quantity. Start reading: theme.py, then month.py.
"""
