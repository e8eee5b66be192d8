"""Use-cases: own the transactions, wire ports, turn records into view models.

May know: everything below api. May not: flask request state. Services take a Session argument and
are the only ones that commit. Start reading: exchange.py.
"""
