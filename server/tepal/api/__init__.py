"""HTTP only: blueprints, sessions, cookies and the one exception -> HTTP map.

May know: flask, services. May not: SQL. `current_app`, `request` and `g` live here and nowhere
else. Start reading: errors.py, then exchange.py.
"""
