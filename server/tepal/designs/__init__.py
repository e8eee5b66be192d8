"""Trial designs: (spec, seed) -> randomised layout, bench map, replicates needed.

May know: numpy, tepal.domain. May not: records, database, web, papers, statistics results.
Start reading: layouts.py.
"""
