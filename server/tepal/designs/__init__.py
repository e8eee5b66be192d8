"""Trial designs: (spec, seed) -> randomised layout, bench map, replicates needed.

May know: numpy, tepal.domain; for power only tepal.stats. May not: records, database, web, papers.
Time and seeds are arguments; nothing here draws one.
Start reading: layouts.py.
"""
