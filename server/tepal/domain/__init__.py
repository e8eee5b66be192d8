"""Pure rules and arithmetic: units, strength, dilution, tank, rounding, checks, errors.

May know: the standard library. May not: any package, clock, random source, file or network.
Twin: web/app/core has the same modules, functions and order of operations.
Start reading: errors.py, units.py, then strength.py.
"""
