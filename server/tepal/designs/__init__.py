"""Trial designs: (spec, seed) -> randomised layout, bench map, replicates needed.

May know: numpy, scipy.special (for power only), tepal.domain. May not: records, database, web,
papers, statistics results. Time and seeds are arguments; nothing here draws one.
Start reading: layouts.py.
"""
