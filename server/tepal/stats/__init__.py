"""Statistics of trials: arrays and small frames in, frozen results out.

May know: numpy, scipy, statsmodels (only where used), tepal.domain. May not: records, database,
HTTP, papers, formatting. Start reading: results.py, then models.py.
"""
